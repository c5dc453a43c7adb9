package judge

import (
	"context"
	"fmt"
	"time"

	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/engine"
)

// farFuture is after every reading.
var farFuture = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)

const (
	// margin keeps a re-run from beginning with a snapshot of the very instant
	// of the late reading.
	margin = time.Minute
	// rerunAttempts are how often a home is judged again beside its readings
	// that come; after that they wait for it.
	rerunAttempts = 3
	// maxMeanwhile readings of a home are kept while it is judged again.
	maxMeanwhile = 100_000
)

// begin brings a sleeping home up to the store: from its newest snapshot, or
// from one before late readings that were noted and not yet judged.
func (s *shard) begin(ctx context.Context, d *desk) error {
	since, wanted, err := d.judge.opts.State.WantedRerun(ctx, d.home.ID)
	if err != nil {
		return err
	}
	since = since.Add(-margin)
	if !wanted {
		since = farFuture
	}
	if err := s.judgeAgain(ctx, d, since); err != nil {
		return err
	}
	d.judge.caughtUp(1)
	return nil
}

// rerun judges a home again from before its late readings. Called exclusively.
func (s *shard) rerun(ctx context.Context, d *desk) error {
	s.mu.Lock()
	since := d.late.since
	s.mu.Unlock()
	if since.IsZero() { // somebody else has done it
		return nil
	}
	began := time.Now()
	if err := s.judgeAgain(ctx, d, farFuture); err != nil {
		return err
	}
	d.judge.metrics.reruns.Inc()
	d.judge.opts.Logger.Info("judged a home again for late readings", "home", d.home.ID, "since", since, "took", time.Since(began))
	return nil
}

// judgeAgain replaces a desk's engine by one that has judged everything in the
// store, beginning with the newest snapshot at or before since and all that is
// late, and saves what has come of it in place of what came before. If any of
// this fails the old engine stays: going on from what was not saved could mix
// two runs.
//
// The store is read without holding the shard up. Readings that come meanwhile
// are kept and judged last; if one of them is older than what has been judged
// by then, everything is read once more from before it. Called exclusively.
func (s *shard) judgeAgain(ctx context.Context, d *desk, since time.Time) error {
	for attempt := 1; attempt < rerunAttempts; attempt++ {
		s.mu.Lock()
		since = d.before(since)
		d.meanwhile = d.meanwhile[:0]
		s.mu.Unlock()
		fresh, err := d.readAgain(ctx, since)
		if err != nil {
			return err
		}
		s.mu.Lock()
		if fresh.takeAll(d.meanwhile) {
			defer s.mu.Unlock()
			return d.replace(ctx, fresh)
		}
		s.mu.Unlock()
	}
	s.mu.Lock()
	defer s.mu.Unlock() // its readings wait now
	fresh, err := d.readAgain(ctx, d.before(since))
	if err != nil {
		return err
	}
	return d.replace(ctx, fresh)
}

// before is the moment at or before which a new judging must begin to meet all
// readings that the desk's engine has not taken: since, or before its late
// readings and those that came since it is busy. All of them are in the store.
// Called with the shard's mu held.
func (d *desk) before(since time.Time) time.Time {
	if late := d.late.since.Add(-margin); !d.late.since.IsZero() && late.Before(since) {
		since = late
	}
	// No margin here: those that come after a clean stop would cost the snapshot
	// that was made at it.
	if !d.oldest.IsZero() && d.oldest.Before(since) {
		since = d.oldest
	}
	return since
}

// readAgain makes a desk that has judged everything in the store, from the
// newest snapshot at or before since on. It changes nothing of the old one.
func (d *desk) readAgain(ctx context.Context, since time.Time) (*desk, error) {
	fresh := &desk{judge: d.judge, home: d.home}
	from, err := fresh.restore(ctx, since)
	if err != nil {
		return nil, err
	}
	fresh.unsaved.Rerun = &state.Rerun{From: from}
	err = series.EachHome(ctx, d.judge.opts.Store, d.home.ID, from, func(page []detect.Reading) error {
		for _, r := range page {
			fresh.engine.Observe(r) // what the snapshot holds already is a duplicate
		}
		fresh.collect(&fresh.unsaved, false)
		return ctx.Err()
	})
	if err != nil {
		return nil, fmt.Errorf("reading the series store: %w", err)
	}
	return fresh, nil
}

// takeAll judges the readings that came meanwhile. It says no when one of them
// is late, or when they are so many that some were left out.
func (d *desk) takeAll(meanwhile []detect.Reading) bool {
	for _, r := range meanwhile {
		d.observe(r)
	}
	return d.late.since.IsZero() && len(meanwhile) < maxMeanwhile
}

// replace saves what came of the fresh desk and puts it in the place of the old
// one. Called with the shard's mu held.
func (d *desk) replace(ctx context.Context, fresh *desk) error {
	fresh.collect(&fresh.unsaved, false)
	if err := fresh.save(ctx); err != nil {
		return err
	}
	fresh.busy = d.busy
	*d = *fresh
	return nil
}

// restore makes the desk's engine, in the state of the newest snapshot at or
// before since that can be used, and returns that snapshot's watermark; the
// zero time if there is none. A snapshot of another version of the program
// usually cannot be used.
func (d *desk) restore(ctx context.Context, since time.Time) (watermark time.Time, err error) {
	for {
		d.engine = d.judge.opts.NewEngine(d.home)
		s, ok, err := d.judge.opts.State.SnapshotBefore(ctx, d.home.ID, since)
		if err != nil || !ok {
			return time.Time{}, err
		}
		if err = d.unpack(s.Data); err == nil {
			d.snapped = s.Watermark
			return s.Watermark, nil
		}
		d.judge.opts.Logger.Warn("a snapshot cannot be used; trying an older one", "home", d.home.ID, "of", s.Watermark, "error", err)
		since = s.Watermark.Add(-1)
	}
}

// unpack puts the engine into the state of a sealed snapshot.
func (d *desk) unpack(sealed []byte) error {
	snapshot, err := unseal(sealed)
	if err != nil {
		return err
	}
	e, ok := d.engine.(unpacked)
	if !ok {
		return d.engine.Restore(d.home.ID, snapshot)
	}
	u := d.judge.unpackers.Get().(*engine.Unpacker)
	defer d.judge.unpackers.Put(u)
	return e.RestoreBy(u, d.home.ID, snapshot)
}

// unpacked is an engine that restores by an unpacker.
type unpacked interface {
	RestoreBy(u *engine.Unpacker, home string, snapshot []byte) error
}

var _ unpacked = (*engine.Engine)(nil)
