package judge

import (
	"context"
	"fmt"
	"time"

	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
)

// farFuture is after every reading.
var farFuture = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)

// margin keeps a re-run from beginning with a snapshot of the very instant of
// the late reading.
const margin = time.Minute

// begin brings a new desk up to the store: from its newest snapshot, or from
// one before late readings that were noted and not yet judged.
func (d *desk) begin(ctx context.Context) error {
	since, wanted, err := d.judge.opts.State.WantedRerun(ctx, d.home.ID)
	if err != nil {
		return err
	}
	since = since.Add(-margin)
	if !wanted {
		since = farFuture
	}
	return d.judgeAgain(ctx, since)
}

// rerun judges again from before the late readings.
func (d *desk) rerun(ctx context.Context) error {
	began := time.Now()
	since := d.late.since
	if err := d.judgeAgain(ctx, since.Add(-margin)); err != nil {
		return err
	}
	d.judge.metrics.reruns.Inc()
	d.judge.opts.Logger.Info("judged a home again for late readings", "home", d.home.ID, "since", since, "took", time.Since(began))
	return nil
}

// judgeAgain replaces the desk's engine by one that has judged everything in the
// store, beginning with the newest snapshot at or before since, and saves what
// has come of it in place of what came before. If any of this fails the old
// engine stays: going on from what was not saved could mix two runs.
func (d *desk) judgeAgain(ctx context.Context, since time.Time) error {
	fresh := &desk{judge: d.judge, home: d.home}
	from, err := fresh.restore(ctx, since)
	if err != nil {
		return err
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
		return fmt.Errorf("reading the series store: %w", err)
	}
	if err := fresh.save(ctx); err != nil {
		return err
	}
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
		if err := d.engine.Restore(d.home.ID, s.Data); err == nil {
			d.snapped = s.Watermark
			return s.Watermark, nil
		} else {
			d.judge.opts.Logger.Warn("a snapshot cannot be used; trying an older one", "home", d.home.ID, "of", s.Watermark, "error", err)
		}
		since = s.Watermark.Add(-1)
	}
}
