package series

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
	"github.com/prometheus/prometheus/tsdb"

	"brinebell/detect"
)

// The labels of a series: its name is the signal.
const (
	nameLabel = "__name__"
	homeLabel = "home"
)

// TSDB is the embedded store.
type TSDB struct {
	opts  Options
	db    *tsdb.DB
	sync  *syncer  // nil when flushing is left to the operating system
	found []Damage // at the start
	// history keeps sums of what is too old; nil in a store that is a part of
	// one. Its mark is guarded by mu.
	history *history

	append sync.Mutex // one batch at a time; guards series' entries' ref
	mu     sync.RWMutex
	series map[key]*entry // guarded by mu
}

var (
	_ Store  = (*TSDB)(nil)
	_ Runner = (*TSDB)(nil)
)

// key names a series.
type key struct {
	home   string
	signal detect.Signal
}

// entry is what is kept in memory of a series.
type entry struct {
	labels labels.Labels
	ref    storage.SeriesRef
	newest Point // guarded by TSDB.mu; Time is zero when not known
}

// Open opens the embedded store, reading its log. Damage is moved aside, said in
// the log and answered by Damage; what can be rescued is.
func Open(opts Options) (*TSDB, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	s := &TSDB{opts: opts, series: map[key]*entry{}}
	if err := s.open(); err != nil {
		return nil, fmt.Errorf("series store %s: %w", opts.Dir, err)
	}
	return s, nil
}

func (s *TSDB) open() (err error) {
	if err := os.MkdirAll(s.opts.Dir, 0o750); err != nil {
		return err
	}
	m, err := mend(s.opts.Dir, s.opts.Logger)
	if err != nil {
		return err
	}
	s.found = m.found
	if !s.opts.noHistory {
		if s.history, err = openHistory(s.opts); err != nil {
			return err
		}
	}
	if err := s.openLibrary(m.cut); err != nil {
		return errors.Join(err, s.history.close())
	}
	if !s.opts.NoSync {
		s.sync = newSyncer(s.opts.Dir)
	}
	if m.logs != "" {
		n, err := rescue(context.Background(), s, m.logs)
		if err := errors.Join(err, s.sync.flush()); err != nil {
			return errors.Join(err, s.Close())
		}
		s.opts.Logger.Warn("read what could be read of the damaged log and stored it again", "readings", n, "the log as it was", m.logs)
	}
	return errors.Join(mark(s.opts.Dir), s.register())
}

// openLibrary opens the library's store. When it finds a log cut off it mends that
// and has not read the other log by then; so it is opened once more.
func (s *TSDB) openLibrary(cut bool) (err error) {
	if cut {
		if s.db, err = tsdb.Open(s.opts.Dir, s.opts.Logger, nil, s.libraryOptions(), nil); err != nil {
			return err
		}
		if err := s.db.Close(); err != nil {
			return err
		}
	}
	s.db, err = tsdb.Open(s.opts.Dir, s.opts.Logger, s.opts.Registerer, s.libraryOptions(), nil)
	return err
}

func (s *TSDB) libraryOptions() *tsdb.Options {
	o := s.opts.library()
	o.BlocksToDelete = s.deletable
	return o
}

// Damage is what was found damaged when the store was opened.
func (s *TSDB) Damage() []Damage { return s.found }

func (s *TSDB) register() error {
	if s.opts.Metrics == nil {
		return nil
	}
	return s.opts.Metrics.Register(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_store_damaged_parts",
		Help: "Blocks and logs of the series store that were found damaged at the start."}, func() float64 { return float64(len(s.found)) }))
}

// Close makes everything durable and ends the store's work.
func (s *TSDB) Close() error {
	s.append.Lock()
	defer s.append.Unlock()
	if err := errors.Join(s.history.close(), s.sync.close(), s.db.Close()); err != nil {
		return err
	}
	return unmark(s.opts.Dir)
}

// entry is the series of a home's signal.
func (s *TSDB) entry(k key) *entry {
	s.mu.RLock()
	e := s.series[k]
	s.mu.RUnlock()
	if e != nil {
		return e
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if e := s.series[k]; e != nil {
		return e
	}
	e = &entry{labels: labels.FromStrings(nameLabel, k.signal.String(), homeLabel, k.home)}
	s.series[k] = e
	return e
}

// Append stores a batch; see Store.
func (s *TSDB) Append(ctx context.Context, readings []detect.Reading) ([]Rejected, error) {
	s.append.Lock()
	defer s.append.Unlock()
	var rejected []Rejected
	app := s.db.Appender(ctx)
	for i, r := range readings {
		if err := Finite(r.Value); err != nil {
			rejected = append(rejected, Rejected{i, err})
			continue
		}
		e := s.entry(key{r.Home, r.Signal})
		ref, err := app.Append(e.ref, e.labels, r.Time.UnixMilli(), r.Value)
		switch why := refusal(err); {
		case why != nil:
			rejected = append(rejected, Rejected{i, why})
		case err != nil:
			return nil, errors.Join(fmt.Errorf("series store: %w", err), app.Rollback())
		default:
			e.ref = ref
		}
	}
	if err := app.Commit(); err != nil {
		return nil, fmt.Errorf("series store: commit: %w", err)
	}
	if err := s.sync.flush(); err != nil {
		return nil, fmt.Errorf("series store: flush: %w", err)
	}
	s.noteNewest(readings, rejected)
	return rejected, nil
}

// refusal is the library's word on a single sample in ours, or nil.
func refusal(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, storage.ErrTooOldSample), errors.Is(err, storage.ErrOutOfBounds), errors.Is(err, storage.ErrOutOfOrderSample):
		return ErrTooOld
	case errors.Is(err, storage.ErrDuplicateSampleForTimestamp):
		return ErrConflict
	}
	return nil
}

// noteNewest remembers the newest point of each series in the batch, if it was
// known before or is certainly the newest.
func (s *TSDB) noteNewest(readings []detect.Reading, rejected []Rejected) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, r := range readings {
		if len(rejected) > 0 && rejected[0].Index == i {
			rejected = rejected[1:]
			continue
		}
		at := time.UnixMilli(r.Time.UnixMilli()).UTC()
		if e := s.series[key{r.Home, r.Signal}]; !e.newest.Time.IsZero() && at.After(e.newest.Time) {
			e.newest = Point{at, r.Value}
		}
	}
}

// everything is a span that holds all times.
const everything = math.MaxInt64 / 4

// Compact writes what is due from memory to blocks, and late readings with it.
// The store does so by itself; this is for maintenance and tests.
func (s *TSDB) Compact(ctx context.Context) error {
	if err := s.db.Compact(ctx); err != nil {
		return fmt.Errorf("series store: %w", err)
	}
	if err := s.db.CompactOOOHead(ctx); err != nil {
		return fmt.Errorf("series store: %w", err)
	}
	return nil
}
