package series

import (
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/prometheus/tsdb"
)

// The defaults of Options.
const (
	// DefaultWindow is how late a reading may come, counted from the newest of
	// all homes: a sensor that was offline through a long absence still uploads
	// what it kept, and a home whose clock runs a day ahead harms no other.
	// What is not used costs nothing.
	DefaultWindow = 400 * 24 * time.Hour
	// DefaultRetention keeps five years, to compare seasons.
	DefaultRetention = 5 * 365 * 24 * time.Hour
	// DefaultFiveMinutes and DefaultHours are how long summaries are kept, in all.
	DefaultFiveMinutes = 10 * 365 * 24 * time.Hour
	DefaultHours       = 30 * 365 * 24 * time.Hour
	// blockLength is the shortest time a block of files holds. Household
	// readings are slow, so blocks of the library's usual two hours would be
	// many and nearly empty.
	blockLength = 24 * time.Hour
	// BusyBlock is right for a thousand homes and more. What is not in a block
	// yet, up to one and a half times as much, is read from the log when the
	// collector starts after a crash: 0.15 to 0.3 s of processor time a million
	// readings.
	BusyBlock = 2 * time.Hour
	// maxBlockLength is the longest, by steps of three from blockLength.
	maxBlockLength = 27 * blockLength
	// segmentSize of the log. It bounds what a flush may have to write and what
	// a start has to read at once.
	segmentSize = 32 << 20
)

// Options say how the embedded store keeps readings. Dir must be set.
type Options struct {
	Dir       string        // the store's directory, made when it is not there
	Window    time.Duration // how late a reading may come; DefaultWindow when 0
	Retention time.Duration // how long readings are kept; DefaultRetention when 0
	// FiveMinutes and Hours are how long sums of five minutes and of an hour are
	// kept, from their readings' time on; DefaultFiveMinutes and DefaultHours
	// when 0, and no less than Retention.
	FiveMinutes, Hours time.Duration
	Block              time.Duration // the shortest time a block of files holds: a day when 0, or BusyBlock
	// NoSync leaves the flush of the log to the operating system: readings then
	// survive the death of the process but may be lost with the machine's
	// power. For demonstrations and bulk imports.
	NoSync     bool
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // of the library's own metrics; nil for none
	Metrics    prometheus.Registerer // of ours, named brinebell_store_...; nil for none

	noHistory bool // for a store of sums
}

func (o Options) validate() error {
	switch {
	case o.Dir == "":
		return errors.New("series store: no directory given")
	case o.Window < 0 || o.Retention < 0:
		return errors.New("series store: window and retention cannot be negative")
	case o.Retention < o.Window:
		return fmt.Errorf("series store: readings up to %v late could not be kept for %v only", o.Window, o.Retention)
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.Window == 0 {
		o.Window = DefaultWindow
		if o.Retention != 0 {
			o.Window = min(o.Window, o.Retention)
		}
	}
	if o.Retention == 0 {
		o.Retention = max(DefaultRetention, o.Window)
	}
	if o.Block == 0 {
		o.Block = blockLength
	}
	if o.FiveMinutes == 0 {
		o.FiveMinutes = DefaultFiveMinutes
	}
	if o.Hours == 0 {
		o.Hours = DefaultHours
	}
	o.FiveMinutes, o.Hours = max(o.FiveMinutes, o.Retention), max(o.Hours, o.Retention)
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}

// library is what the storage library is told.
func (o Options) library() *tsdb.Options {
	l := tsdb.DefaultOptions()
	l.OutOfOrderTimeWindow = o.Window.Milliseconds()
	l.RetentionDuration = o.Retention.Milliseconds()
	l.MinBlockDuration = o.Block.Milliseconds()
	l.MaxBlockDuration = maxBlockLength.Milliseconds()
	l.WALSegmentSize = segmentSize
	l.EnableMemorySnapshotOnShutdown = true // the next start need not read the log
	l.StripeSize = 1 << 12                  // shards of the index in memory: for thousands of series, not millions
	return l
}
