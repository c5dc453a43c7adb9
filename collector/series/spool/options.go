package spool

import (
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/series"
)

// The defaults of Options.
const (
	// DefaultLimit holds some 75 million readings: three and a half hours of ten
	// thousand homes with six signals every 10 s, or five months of ten.
	DefaultLimit = 1 << 30
	// DefaultRate is half of what a small InfluxDB was measured to take, so that
	// a backlog leaves it time to answer questions.
	DefaultRate = 100_000
	// DefaultBatch is one request of the store's.
	DefaultBatch = 5000
	// minLimit makes room for some batches of the intake.
	minLimit = 1 << 20
)

// The pauses after a failed write, doubling from one to the other.
const (
	firstPause = 100 * time.Millisecond
	maxPause   = 15 * time.Second
)

// Options say how a spool works. Dir and Store must be set.
type Options struct {
	Dir   string       // made when it is not there; one spool each
	Store series.Store // closed with the spool
	// Limit bounds the bytes that wait, some 14 a reading; DefaultLimit when 0.
	// A segment that is partly handed on takes up to a sixteenth more on disk.
	Limit int64
	Rate  float64          // readings handed on in a second at most, which must be more than come in; DefaultRate when 0
	Batch int              // readings handed on at once, roughly; DefaultBatch when 0
	Clock func() time.Time // stamps when readings came; time.Now when nil

	// NoSync leaves the flush to the operating system: what was acknowledged may
	// then be lost with the machine's power. For tests and demonstrations.
	NoSync bool

	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none

	create func(path string) (file, error) // os.OpenFile but for tests
}

func (o Options) validate() error {
	switch {
	case o.Dir == "" || o.Store == nil:
		return errors.New("spool: a folder and a store must be given")
	case o.Limit < minLimit:
		return fmt.Errorf("spool: a limit of %d bytes is too small; the least is %d", o.Limit, minLimit)
	case o.Rate < 0 || o.Batch < 0:
		return errors.New("spool: rate and batch cannot be negative")
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.Limit == 0 {
		o.Limit = DefaultLimit
	}
	if o.Rate == 0 {
		o.Rate = DefaultRate
	}
	if o.Batch == 0 {
		o.Batch = DefaultBatch
	}
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.create == nil {
		o.create = createFile
	}
	if o.NoSync {
		create := o.create
		o.create = func(path string) (file, error) {
			f, err := create(path)
			return unflushed{f}, err
		}
	}
	return o
}

// segmentSize is that of a spool with this limit: small enough that deleting
// what is done frees space in good time, large enough that files are few.
func (o Options) segmentSize() int64 { return min(o.Limit/16, 16<<20) }
