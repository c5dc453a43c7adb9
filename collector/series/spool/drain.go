package spool

import (
	"context"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// positionEvery bounds how much is stored again after a crash.
const positionEvery = 2 * time.Second

// Run hands readings on to the store until ctx ends. It can be run once.
func (s *Spool) Run(ctx context.Context) error {
	saved := time.Now()
	for ctx.Err() == nil {
		t, err := s.journal.take(s.opts.Batch)
		if err != nil {
			return err
		}
		if t.bytes == 0 {
			s.journal.advance(t) // over a gap, perhaps
			if !s.idle(ctx) {
				break
			}
			continue
		}
		if !s.handOn(ctx, t) {
			break
		}
		s.journal.advance(t)
		if time.Since(saved) > positionEvery {
			saved = time.Now()
			s.savePosition(t.to)
		}
	}
	return nil
}

// savePosition notes a position; that it cannot is no reason to stop.
func (s *Spool) savePosition(p position) {
	if err := savePosition(s.opts.Dir, p); err != nil {
		s.opts.Logger.Warn("the spool's position could not be noted; after a restart some readings are stored again", "error", err)
	}
}

// idle waits for something to do; false when ctx ends first.
func (s *Spool) idle(ctx context.Context) bool {
	select {
	case <-s.journal.grew:
		return true
	case <-ctx.Done():
		return false
	}
}

// handOn stores readings, however long it takes; false when ctx ends first.
func (s *Spool) handOn(ctx context.Context, t taken) bool {
	if err := s.limiter.WaitN(ctx, min(len(t.readings), s.limiter.Burst())); err != nil {
		return false
	}
	pause := firstPause
	for failures := 0; ; failures++ {
		err := s.tryToHandOn(ctx, t)
		if err == nil {
			s.metrics.up(true)
			if failures > 0 {
				s.opts.Logger.Info("the series store takes readings again", "waiting", s.State().Readings)
			}
			return true
		}
		if ctx.Err() != nil {
			return false
		}
		s.metrics.up(false)
		if failures == 0 {
			s.opts.Logger.Warn("the series store takes no readings; they wait in the spool", "error", err)
		}
		if !wait(ctx, pause) {
			return false
		}
		pause = min(2*pause, maxPause)
	}
}

// tryToHandOn stores readings, but those of homes that were erased since.
func (s *Spool) tryToHandOn(ctx context.Context, t taken) error {
	s.handing.Lock()
	defer s.handing.Unlock()
	readings := s.journal.withoutErased(t)
	if len(readings) == 0 {
		return nil
	}
	refused, err := s.opts.Store.Append(ctx, readings)
	if err != nil {
		return err
	}
	return s.handled(readings, refused)
}

// handled notes what became of readings that the store has answered for.
func (s *Spool) handled(readings []detect.Reading, refused []series.Rejected) error {
	if len(refused) > 0 {
		if err := setRefusedAside(s.opts.Dir, readings, refused); err != nil {
			return err
		}
		s.opts.Logger.Error("the series store refuses readings; they were set aside", "readings", len(refused), "file", RefusedFile,
			"home", readings[refused[0].Index].Home, "first reason", refused[0].Err)
	}
	s.metrics.handled(len(readings)-len(refused), len(refused))
	return nil
}

func wait(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}
