package judge

import (
	"context"
	"fmt"
	"time"
)

// catchUpPause is how long homes that could not be brought up to the store
// wait for the next attempt: the server behind it may be down.
const catchUpPause = 10 * time.Second

// prepare finds out from where each home's readings have yet to be judged, so
// that those that come meanwhile can be taken.
func (j *Judge) prepare(ctx context.Context) error {
	j.caughtUp(0)
	newest, err := j.opts.State.NewestSnapshots(ctx)
	if err != nil {
		return err
	}
	return j.eachShard(func(s *shard) error {
		for home, d := range s.desks {
			d.resume = newest[home]
		}
		return nil
	})
}

// caughtUp notes that so many homes need not be waited for any more.
func (j *Judge) caughtUp(homes int64) {
	if j.behind.Add(-homes) <= 0 {
		j.once.Do(func() { close(j.caught) })
	}
}

// catchUp begins every desk that has not begun. What fails is tried again at a
// later call.
func (j *Judge) catchUp(ctx context.Context, now time.Time) {
	if j.behind.Load() == 0 || now.Before(j.retry) {
		return
	}
	if err := j.atEachShard(func(s *shard) error { return s.catchUp(ctx) }); err != nil && ctx.Err() == nil {
		j.retry = time.Now().Add(catchUpPause)
		j.opts.Logger.Error("homes cannot be judged up to the series store; trying again", "homes", j.behind.Load(), "error", err)
	}
}

// catchUp begins the shard's desks one by one, up to the first that fails: the
// next ones would wait for the same store.
func (s *shard) catchUp(ctx context.Context) error {
	for _, d := range s.which((*desk).asleep) {
		if _, err := s.exclusively(d, func() error { return s.wake(ctx, d) }); err != nil {
			return fmt.Errorf("home %s: %w", d.home.ID, err)
		}
	}
	return ctx.Err()
}

// which lists the desks that a condition holds for.
func (s *shard) which(holds func(*desk) bool) (desks []*desk) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, d := range s.desks {
		if holds(d) {
			desks = append(desks, d)
		}
	}
	return desks
}

// exclusively does what must not be done to a desk twice at a time. It does
// nothing, and says no, while that is under way.
func (s *shard) exclusively(d *desk, do func() error) (done bool, err error) {
	if !s.mark(d, true) {
		return false, nil
	}
	defer s.mark(d, false)
	return true, do()
}

// mark marks a desk as busy or not; it says no to a second busy, and to one that
// has been removed.
func (s *shard) mark(d *desk, busy bool) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if busy && (d.busy || s.desks[d.home.ID] != d) {
		return false
	}
	d.busy, d.meanwhile, d.oldest = busy, d.meanwhile[:0], time.Time{}
	return true
}

// wake begins a desk if it sleeps. Called exclusively.
func (s *shard) wake(ctx context.Context, d *desk) error {
	s.mu.Lock()
	asleep := d.asleep()
	s.mu.Unlock()
	if !asleep {
		return nil
	}
	return s.begin(ctx, d)
}
