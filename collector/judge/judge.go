package judge

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/engine"
)

// ErrStopped means that the judge does not run any more.
var ErrStopped = errors.New("judge has stopped")

// Judge has readings judged.
type Judge struct {
	opts    Options
	metrics *metrics
	shards  []*shard
	knowing sync.RWMutex      // guards of
	of      map[string]*shard // of each home
	ready   chan struct{}     // closed when readings can be taken
	caught  chan struct{}     // closed when every home has caught up
	stopped chan struct{}     // closed when Run ends
	behind  atomic.Int64      // homes that have not caught up
	once    sync.Once         // closes caught
	retry   time.Time         // before which Run does not try again to catch up

	unpackers sync.Pool // of *engine.Unpacker, each with what it has learned

	observing sync.Mutex // one Observe at a time; guards the shards' todo
}

// shard is some homes, worked by one goroutine at a time.
type shard struct {
	logger *slog.Logger

	todo []detect.Reading // of the current Observe

	mu    sync.Mutex // guards the desks
	desks map[string]*desk

	reading sync.Mutex             // guards read; taken after mu where both are
	read    map[string]books.Books // as last read, by home
}

// New makes a judge, which is ready some time after Run has begun.
func New(opts Options) (*Judge, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	j := &Judge{opts: opts, of: map[string]*shard{}, ready: make(chan struct{}), caught: make(chan struct{}), stopped: make(chan struct{})}
	j.unpackers.New = func() any { return engine.NewUnpacker() }
	j.behind.Store(int64(len(opts.Homes)))
	var err error
	if j.metrics, err = newMetrics(opts.Registerer, func() float64 { return float64(j.behind.Load()) }); err != nil {
		return nil, err
	}
	for range max(1, opts.Shards) {
		j.shards = append(j.shards, &shard{logger: opts.Logger, desks: map[string]*desk{}, read: map[string]books.Books{}})
	}
	for i, h := range opts.Homes {
		s := j.shards[i%len(j.shards)]
		s.desks[h.ID] = &desk{judge: j, home: h}
		j.of[h.ID] = s
	}
	return j, nil
}

// Ready is closed when readings can be taken, soon after Run has begun.
func (j *Judge) Ready() <-chan struct{} { return j.ready }

// CaughtUp is closed when every home has been judged up to the store.
func (j *Judge) CaughtUp() <-chan struct{} { return j.caught }

// Behind is how many homes have yet to be judged up to the store.
func (j *Judge) Behind() int { return int(j.behind.Load()) }

// Run brings every home up to the store while it takes readings already, then
// re-runs homes with late readings until ctx ends, and saves where it is. It can
// be run once.
func (j *Judge) Run(ctx context.Context) error {
	defer close(j.stopped)
	if err := j.prepare(ctx); err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return fmt.Errorf("judge: %w", err)
	}
	close(j.ready)
	ticker := time.NewTicker(min(j.opts.RerunPause/2, catchUpPause))
	defer ticker.Stop()
	for now := time.Now(); ; {
		j.catchUp(ctx, now)
		_ = j.atEachShard(func(s *shard) error { s.rerunDue(ctx, now); return nil })
		select {
		case now = <-ticker.C:
		case <-ctx.Done():
			return j.eachShard(func(s *shard) error { return s.conclude() })
		}
	}
}

// eachShard works all shards at once, with mu held.
func (j *Judge) eachShard(do func(*shard) error) error {
	return j.atEachShard(func(s *shard) error {
		s.mu.Lock()
		defer s.mu.Unlock()
		return do(s)
	})
}

// atEachShard works all shards at once.
func (j *Judge) atEachShard(do func(*shard) error) error {
	var group errgroup.Group
	for _, s := range j.shards {
		group.Go(func() error { return do(s) })
	}
	return group.Wait()
}

// Observe judges committed readings. When it returns without an error they may
// be acknowledged. Readings of unknown homes are passed over. It waits until
// the judge is ready.
func (j *Judge) Observe(ctx context.Context, readings []detect.Reading) error {
	select {
	case <-j.ready:
	case <-j.stopped:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
	j.observing.Lock()
	defer j.observing.Unlock()
	j.knowing.RLock()
	for _, r := range readings {
		if s := j.of[r.Home]; s != nil {
			s.todo = append(s.todo, r)
		}
	}
	j.knowing.RUnlock()
	return j.eachShard(func(s *shard) error {
		defer func() { s.todo = s.todo[:0] }()
		return s.observe(ctx)
	})
}

// observe judges what is to do. Called with mu held.
func (s *shard) observe(ctx context.Context) error {
	var errs []error
	var d *desk
	for _, r := range s.todo {
		if d == nil || d.home.ID != r.Home {
			if d != nil {
				errs = append(errs, d.settle(ctx))
			}
			if d = s.desks[r.Home]; d == nil {
				continue // removed this moment
			}
		}
		d.observe(r)
	}
	if d != nil {
		errs = append(errs, d.settle(ctx))
	}
	return errors.Join(errs...)
}

// rerunDue re-runs the homes whose late readings have paused.
func (s *shard) rerunDue(ctx context.Context, now time.Time) {
	for _, d := range s.which(func(d *desk) bool { return !d.asleep() && d.late.due(now, d.judge.opts) }) {
		if _, err := s.exclusively(d, func() error { return s.rerun(ctx, d) }); err != nil && ctx.Err() == nil {
			d.judge.opts.Logger.Error("a home could not be judged again", "home", d.home.ID, "error", err)
		}
	}
}

// concludeTime bounds the saving at the end. Ten thousand homes take some ten
// seconds of two cores.
const concludeTime = 30 * time.Second

// conclude saves where every desk is, as far as there is time: what is not saved
// follows again from the readings. Called with mu held.
func (s *shard) conclude() error {
	ctx, cancel := context.WithTimeout(context.Background(), concludeTime)
	defer cancel()
	var errs []error
	left := 0
	for _, d := range s.desks {
		if ctx.Err() == nil {
			errs = append(errs, d.conclude(ctx))
		}
		if ctx.Err() != nil {
			left++
		}
	}
	if ctx.Err() == nil {
		return errors.Join(errs...)
	}
	s.logger.Warn("there was no time to save where every home is; they are judged anew from their last snapshots", "homes", left)
	return nil
}
