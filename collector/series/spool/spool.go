package spool

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/prometheus/prometheus/tsdb/fileutil"
	"golang.org/x/time/rate"

	"brinebell/collector/series"
	"brinebell/detect"
)

// ErrFull means that as much waits as the spool may hold.
var ErrFull = fmt.Errorf("the spool is full (%w)", series.ErrUnavailable)

// key names a series.
type key struct {
	home   string
	signal detect.Signal
}

// admitter is a store that can tell some readings that it will refuse.
type admitter interface {
	Admit(detect.Reading) error
}

// Spool is a store with a spool in front of it.
type Spool struct {
	opts    Options
	journal *journal
	metrics *metrics
	limiter *rate.Limiter
	lock    io.Closer
	found   found

	mu     sync.Mutex           // guards newest
	newest map[key]series.Point // of what went through here

	// handing is held while readings are handed on, so that none of an erased
	// home are on their way while it is erased.
	handing sync.Mutex
}

var (
	_ series.Store      = (*Spool)(nil)
	_ series.HomeReader = (*Spool)(nil)
	_ series.Runner     = (*Spool)(nil)
	_ series.History    = (*Spool)(nil)
)

// Open opens the spool's folder, repairing what a crash has left. Readings are
// handed on by Run. The store is closed also when the spool cannot be opened.
func Open(opts Options) (*Spool, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	s := &Spool{opts: opts, newest: map[key]series.Point{}, limiter: rate.NewLimiter(rate.Limit(opts.Rate), max(opts.Batch, int(opts.Rate)))}
	if err := s.open(); err != nil {
		return nil, errors.Join(fmt.Errorf("spool %s: %w", opts.Dir, err), s.unlock(), opts.Store.Close())
	}
	return s, nil
}

func (s *Spool) open() (err error) {
	if err := os.MkdirAll(s.opts.Dir, 0o750); err != nil {
		return err
	}
	if s.lock, _, err = flock(filepath.Join(s.opts.Dir, "lock")); err != nil {
		return fmt.Errorf("another process uses it: %w", err)
	}
	if s.journal, s.found, err = openJournal(s.opts, s.noteNewest); err != nil {
		return err
	}
	s.report()
	s.metrics, err = newMetrics(s.opts.Registerer, s)
	return err
}

// flock is the library's lock as an io.Closer.
func flock(path string) (io.Closer, bool, error) {
	lock, existed, err := fileutil.Flock(path)
	if err != nil {
		return nil, existed, err
	}
	return closer(lock.Release), existed, nil
}

type closer func() error

func (c closer) Close() error { return c() }

// report says what opening came upon.
func (s *Spool) report() {
	log := s.opts.Logger
	if s.found.cut > 0 {
		log.Warn("cut off what a crash left half-written in the spool; it was never acknowledged", "bytes", s.found.cut)
	}
	if s.found.damaged > 0 {
		log.Error("part of the spool is damaged and readings are lost; the damaged bytes were kept beside it", "bytes", s.found.damaged, "folder", s.opts.Dir)
	}
	if n := s.State().Readings; n > 0 {
		log.Info("readings wait in the spool", "readings", n)
	}
}

// Append makes a batch durable in the spool; see series.Store. What the store
// would refuse is refused at once where it can tell.
func (s *Spool) Append(_ context.Context, readings []detect.Reading) ([]series.Rejected, error) {
	b := batch{came: s.opts.Clock(), readings: make([]detect.Reading, 0, len(readings))}
	var rejected []series.Rejected
	for i, r := range readings {
		if err := s.admit(r); err != nil {
			rejected = append(rejected, series.Rejected{Index: i, Err: err})
			continue
		}
		r.Time = r.Time.Truncate(time.Millisecond)
		b.readings = append(b.readings, r)
	}
	if len(b.readings) == 0 {
		return rejected, nil
	}
	if err := s.journal.append(b); err != nil {
		s.metrics.notTaken(err)
		return nil, err
	}
	for _, r := range b.readings {
		s.noteNewest(r)
	}
	return rejected, nil
}

func (s *Spool) admit(r detect.Reading) error {
	if a, ok := s.opts.Store.(admitter); ok {
		return a.Admit(r)
	}
	return series.Finite(r.Value)
}

func (s *Spool) noteNewest(r detect.Reading) {
	s.mu.Lock()
	defer s.mu.Unlock()
	k := key{r.Home, r.Signal}
	if known, ok := s.newest[k]; !ok || !r.Time.Before(known.Time) {
		s.newest[k] = series.Point{Time: r.Time, Value: r.Value}
	}
}

// State says how full the spool is.
type State struct {
	Readings int64     // that wait for the store
	Bytes    int64     // of them
	Limit    int64     // of Bytes
	Oldest   time.Time // when the first of them came; zero when none waits
}

// State says how full the spool is now.
func (s *Spool) State() State {
	j := s.journal
	j.mu.Lock()
	defer j.mu.Unlock()
	state := State{Readings: j.waiting, Bytes: j.pending, Limit: j.limit}
	if j.waiting > 0 {
		state.Oldest = j.oldest
	}
	return state
}

// Close ends the spool and closes the store. What waits is handed on next time.
func (s *Spool) Close() error {
	j := s.journal
	j.mu.Lock()
	done := j.done
	j.mu.Unlock()
	return errors.Join(j.close(), savePosition(s.opts.Dir, done), s.unlock(), s.opts.Store.Close())
}

func (s *Spool) unlock() error {
	if s.lock == nil {
		return nil
	}
	return s.lock.Close()
}
