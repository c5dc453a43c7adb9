package judge

import (
	"context"
	"errors"
	"log/slog"
	"runtime"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
)

// The defaults of Options.
const (
	// DefaultSnapshotEvery makes a restart re-read a quarter of a day at most.
	DefaultSnapshotEvery = 6 * time.Hour
	// DefaultRerunPause is longer than the gaps of a sensor that uploads what
	// it kept.
	DefaultRerunPause = 2 * time.Second
	// DefaultRerunMost bounds how long late readings that keep coming can put
	// a re-run off.
	DefaultRerunMost = time.Minute
)

// Engine judges the readings of one home. It is used by one goroutine at a
// time.
type Engine interface {
	Observe(detect.Reading) engine.Outcome
	Take() []detect.Alert
	Regenerations() []engine.HomeRecord
	Books(home string) (b books.Books, ok bool)
	Watermark(home string) time.Time
	Snapshot(home string) ([]byte, error)
	Restore(home string, snapshot []byte) error
}

var _ Engine = (*engine.Engine)(nil)

// State is what the judge needs of the state store.
type State interface {
	Save(context.Context, state.Progress) (news []detect.Alert, err error)
	// NewestSnapshots are the watermarks of each home's newest snapshot.
	NewestSnapshots(ctx context.Context) (map[string]time.Time, error)
	SnapshotBefore(ctx context.Context, home string, t time.Time) (s state.Snapshot, ok bool, err error)
	WantRerun(ctx context.Context, home string, since time.Time) error
	WantedRerun(ctx context.Context, home string) (since time.Time, ok bool, err error)
}

var _ State = (*state.DB)(nil)

// Options say what the judge works with. Homes, Store and State must be set.
type Options struct {
	Homes []detect.Home
	Store series.Store
	State State
	// NewEngine makes a home's engine; that of package engine when nil.
	NewEngine     func(detect.Home) Engine
	SnapshotEvery time.Duration // in time of measurement; DefaultSnapshotEvery when 0
	RerunPause    time.Duration // DefaultRerunPause when 0
	RerunMost     time.Duration // DefaultRerunMost when 0
	Shards        int           // as many as there are cores when 0
	// Changed is told of alerts that were raised, changed or cleared, after that
	// was saved; a restart or re-run that finds what is known already tells
	// nothing.
	// It must not block. May be nil.
	Changed    func([]detect.Alert)
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o Options) validate() error {
	if o.Store == nil || o.State == nil {
		return errors.New("judge: Store and State must be set")
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.NewEngine == nil {
		o.NewEngine = func(h detect.Home) Engine { return engine.New([]detect.Home{h}, engine.Options{}) }
	}
	for value, standard := range map[*time.Duration]time.Duration{
		&o.SnapshotEvery: DefaultSnapshotEvery, &o.RerunPause: DefaultRerunPause, &o.RerunMost: DefaultRerunMost} {
		if *value == 0 {
			*value = standard
		}
	}
	if o.Shards == 0 {
		o.Shards = runtime.GOMAXPROCS(0)
	}
	if o.Changed == nil {
		o.Changed = func([]detect.Alert) {}
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}
