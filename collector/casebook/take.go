package casebook

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// Take brings the cases up to the alerts.
func (b *Book) Take(ctx context.Context) error {
	for {
		home, err := b.nextHome(ctx)
		if home == "" || err != nil {
			return err
		}
		if err := b.takeHome(ctx, home); err != nil {
			return fmt.Errorf("home %s: %w", home, err)
		}
	}
}

// nextHome is one whose alerts have changed; empty when there is none.
func (b *Book) nextHome(ctx context.Context) (home string, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error { return r.Scan(&home) },
		`SELECT a.home FROM alert_changes c JOIN alerts a ON a.id = c.alert ORDER BY c.seq LIMIT 1`)
	return home, err
}

// takeHome takes what has happened to the alerts of a home, all or nothing.
func (b *Book) takeHome(ctx context.Context, home string) error {
	return b.work(ctx, home, func(d *desk) error {
		changed := map[string]bool{}
		err := rows(ctx, d.tx, func(r *sql.Rows) error {
			var id string
			err := r.Scan(&id)
			changed[id] = true
			return err
		}, `DELETE FROM alert_changes WHERE alert IN (SELECT id FROM alerts WHERE home = ?) RETURNING alert`, home)
		if err != nil {
			return err
		}
		return d.take(ctx, changed)
	})
}

// work does something to the cases of a home, all or nothing.
func (b *Book) work(ctx context.Context, home string, do func(*desk) error) error {
	d := b.desk(home)
	err := b.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		d.tx = tx
		if err := d.open(ctx, tx); err != nil {
			return err
		}
		if err := do(d); err != nil {
			return err
		}
		return d.save(ctx)
	})
	if err == nil {
		d.close()
	}
	return err
}

// take takes the alerts in the order in which they were raised, those that were
// taken back last: what stands in their place has then been seen.
func (d *desk) take(ctx context.Context, changed map[string]bool) error {
	var alerts []state.Alert
	for id := range changed {
		alerts = append(alerts, d.alerts[id])
	}
	slices.SortFunc(alerts, func(a, b state.Alert) int {
		return cmp.Or(cmp.Compare(order(a), order(b)), a.Raised.Compare(b.Raised), cmp.Compare(a.ID, b.ID))
	})
	for _, a := range alerts {
		if err := d.takeAlert(ctx, a); err != nil {
			return fmt.Errorf("alert %s: %w", a.ID, err)
		}
	}
	return nil
}

func order(a state.Alert) int {
	if a.Withdrawn.IsZero() {
		return 0
	}
	return 1
}

func (d *desk) takeAlert(ctx context.Context, a state.Alert) error {
	k := d.of[a.ID]
	stands := a.Open() && a.Withdrawn.IsZero()
	if k == nil {
		if !a.Withdrawn.IsZero() {
			return nil // it came and went between two looks
		}
		return d.newAlert(ctx, a, stands)
	}
	first := care.FirstCause(a.Alert).Cause
	was := *k
	k.severity, k.cause, k.standing, k.dirty, k.file.dirty = a.Severity, first, stands, true, true
	switch {
	case was.standing && !stands:
		return d.cleared(ctx, k.file, a)
	case !was.standing && stands:
		return d.back(ctx, k.file, a)
	case stands && (was.severity != a.Severity || was.cause != first):
		return d.updated(ctx, k.file, a, was.severity)
	}
	return nil
}

const (
	textReplaces  = "the same as before, seen more exactly"
	textReplaced  = "seen more exactly: another alert stands in its place"
	textWithdrawn = "readings that came later do not show it"
	textAgain     = "stands again"
	textHadIt     = "had the case that was joined to this one"
)

// stand puts an alert in the place of one that a re-run raises otherwise. It is
// the same to people, so nobody is told.
func (d *desk) stand(ctx context.Context, f *file, a state.Alert) error {
	act := care.Raised
	if f.Stage == care.Closed {
		act = care.Updated
	}
	return d.step(ctx, f, care.Step{At: a.Raised, Act: act, Alert: a.ID, Cause: care.FirstCause(a.Alert).Cause, Text: textReplaces}, care.Person{}, false)
}

// cleared notes that an alert is over. When it was the last and nobody repaired
// anything, people hear that it is over.
func (d *desk) cleared(ctx context.Context, f *file, a state.Alert) error {
	s := care.Step{At: a.Cleared, Act: care.Cleared, Alert: a.ID}
	if !a.Withdrawn.IsZero() {
		s.At, s.Text = a.Withdrawn, textWithdrawn
		if _, ok := d.of[a.Superseded]; ok {
			s.Text = textReplaced
		}
	}
	after, err := f.Next(s, "")
	if err != nil {
		return err
	}
	tell := after.Stage == care.Watched && f.Stage != care.Watched && f.told != ""
	return d.step(ctx, f, s, care.Person{}, tell)
}

// back notes that an alert stands again, by a re-run that found it after all or
// does not find it over.
func (d *desk) back(ctx context.Context, f *file, a state.Alert) error {
	s := care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID, Text: textAgain}
	if f.Stage == care.Watched || f.Stage == care.Closed {
		s.Act, f.told = care.Reopened, ""
	}
	return d.step(ctx, f, s, care.Person{}, s.Act == care.Reopened)
}

// urgency says in words how pressing an alert has become.
var urgency = map[detect.Severity]string{
	detect.ActNow: "now a matter of acting at once", detect.ThisWeek: "now a matter of this week", detect.Plan: "can now wait for the next occasion",
}

// updated notes another severity or first cause. A case that people have closed
// opens again when it becomes a matter of acting now.
func (d *desk) updated(ctx context.Context, f *file, a state.Alert, before detect.Severity) error {
	s := care.Step{At: d.judged(a), Act: care.Updated, Alert: a.ID, Cause: care.FirstCause(a.Alert).Cause}
	if a.Severity != before {
		s.Text = urgency[a.Severity]
	}
	worse := f.told == "" || a.Severity.Rank() < f.told.Rank()
	if worse && a.Severity == detect.ActNow && (f.Stage == care.Watched || f.Stage == care.Closed) {
		s.Act = care.Reopened
	}
	settled := f.Stage == care.Watched || f.Stage == care.Closed
	return d.step(ctx, f, s, care.Person{}, worse && (!settled || s.Act == care.Reopened))
}

// judged is the time of measurement of an update: that up to which the home was
// judged.
func (d *desk) judged(a state.Alert) time.Time {
	if d.now.After(a.Raised) {
		return d.now.UTC()
	}
	return a.Raised
}
