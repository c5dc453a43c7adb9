package casebook

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
)

// JudgeWatches looks at every home with a case that is watched, and closes or
// opens again what is decided.
func (b *Book) JudgeWatches(ctx context.Context) error {
	var homes []string
	err := b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var home string
		err := r.Scan(&home)
		homes = append(homes, home)
		return err
	}, `SELECT DISTINCT home FROM cases WHERE stage = ?`, string(care.Watched))
	for _, home := range homes {
		if err == nil {
			err = b.judgeHome(ctx, home)
		}
	}
	return err
}

func (b *Book) judgeHome(ctx context.Context, home string) error {
	entries, err := b.entries(ctx, home)
	if err != nil {
		return err
	}
	return b.work(ctx, home, func(d *desk) error {
		for _, f := range d.files {
			if f.Stage != care.Watched {
				continue
			}
			if err := d.conclude(ctx, f, d.watch(f, entries)); err != nil {
				return err
			}
		}
		return nil
	})
}

// entries are a home's regenerations of the time that a watch can last.
func (b *Book) entries(ctx context.Context, home string) (out []books.Entry, err error) {
	now := b.opts.Now(home)
	stored, err := b.opts.State.Regenerations(ctx, home, now.Add(-2*care.Patience), now)
	for _, r := range stored {
		if r.Entry != nil {
			out = append(out, *r.Entry)
		}
	}
	return out, err
}

// watch says how far the watch of a case has come.
func (d *desk) watch(f *file, entries []books.Entry) care.WatchState {
	return judge(f.Case, care.FirstCause(d.alerts[f.Lead].Alert).Cause, d.about, d.now, entries, d.alerts)
}

func judge(c care.Case, first detect.Cause, home detect.Home, now time.Time, entries []books.Entry, alerts map[string]state.Alert) care.WatchState {
	since, cause := watchedSince(c, first)
	seen := care.Seen{Until: now, Location: home.Location, Entries: entries}
	for id, a := range alerts {
		if !a.Withdrawn.IsZero() {
			continue
		}
		if slices.Contains(c.Alerts, id) && !notTrue(c, id) {
			seen.Alerts = append(seen.Alerts, a.Alert)
		}
		if a.Kind == detect.SensorSilent {
			seen.Silent = append(seen.Silent, detect.Span{From: a.Onset, To: a.Cleared})
		}
	}
	return care.WatchFor(cause).Judge(since, seen)
}

// watchedSince is when the watch of a case began, and after what: the last
// repair since it was opened, or else that its last alert was over.
func watchedSince(c care.Case, first detect.Cause) (since time.Time, cause detect.Cause) {
	for _, s := range slices.Backward(c.Steps) {
		switch s.Act {
		case care.Repair:
			return s.At, s.Cause
		case care.Cleared:
			since = later(since, s.At)
		case care.Reopened:
			return since, first
		}
	}
	return since, first
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// notTrue says whether people said of an alert that it is not true.
func notTrue(c care.Case, alert string) bool {
	return slices.ContainsFunc(c.Steps, func(s care.Step) bool { return s.Act == care.NotTrue && s.Alert == alert })
}

// conclude takes the step that the outcome of a watch asks for.
func (d *desk) conclude(ctx context.Context, f *file, w care.WatchState) error {
	switch w.Outcome {
	case care.Proven:
		return d.step(ctx, f, care.Step{At: w.At, Act: care.Held, Text: w.Words()}, care.Person{}, f.told != "")
	case care.Unproven:
		return d.step(ctx, f, care.Step{At: w.At, Act: care.Held, Text: w.Words()}, care.Person{}, false)
	case care.Failed:
		f.told = ""
		if err := d.undo(ctx, f, ""); err != nil {
			return err
		}
		return d.step(ctx, f, care.Step{At: w.At, Act: care.Reopened, Text: w.Words()}, care.Person{}, true)
	}
	return nil
}

// addWatch adds to a watched case how far its watch has come.
func (b *Book) addWatch(ctx context.Context, c *Case) error {
	if c.Stage != care.Watched {
		return nil
	}
	entries, err := b.entries(ctx, c.Home)
	if err != nil {
		return err
	}
	d := b.desk(c.Home)
	err = b.opts.State.View(ctx, func(q state.Querier) error {
		if err := d.open(ctx, q); err != nil {
			return err
		}
		if f := d.file(c.ID); f != nil {
			w := d.watch(f, entries)
			c.Watch = &w
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("watch: %w", err)
	}
	return nil
}
