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

// newAlert finds a new alert its case.
func (d *desk) newAlert(ctx context.Context, a state.Alert, stands bool) error {
	if err := d.count(ctx, a.Alert); err != nil {
		return err
	}
	f, err := d.placeAlert(ctx, a)
	if err != nil {
		return err
	}
	d.of[a.ID] = &known{f, a.Severity, care.FirstCause(a.Alert).Cause, stands, true}
	if !stands {
		return d.cleared(ctx, f, a)
	}
	return nil
}

// count counts an alert as raised, against which false ones are set.
func (d *desk) count(ctx context.Context, a detect.Alert) error {
	_, err := d.tx.ExecContext(ctx, `INSERT INTO verdicts (alert, firm, home, kind, severity) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		a.ID, d.place.Firm, d.home, string(a.Kind), string(a.Severity))
	return err
}

// placeAlert puts a new alert into the case it belongs to.
func (d *desk) placeAlert(ctx context.Context, a state.Alert) (*file, error) {
	if old := d.replaced(a.ID); old != nil {
		return old.file, d.stand(ctx, old.file, a)
	}
	belongs := care.Belongs(a.Alert, d.careFiles())
	s := care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID, Cause: care.FirstCause(a.Alert).Cause}
	f := d.file(belongs.Case)
	if f == nil {
		f = &file{Case: care.Case{Home: d.home}}
		d.files = append(d.files, f)
		return f, d.raise(ctx, f, s, a)
	}
	if err := d.raise(ctx, f, s, a); err != nil {
		return nil, err
	}
	for _, id := range belongs.Merge {
		if err := d.join(ctx, d.file(id), f, a); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// raise adds a new alert to a case that may have been settled before.
func (d *desk) raise(ctx context.Context, f *file, s care.Step, a state.Alert) error {
	came := !a.Onset.Before(f.settled()) || a.Severity == detect.ActNow
	if f.Stage == care.Closed || f.Stage == care.Watched && came {
		f.told = ""
		s.Act = care.Reopened
	}
	tell := a.Open() && (f.told == "" || a.Severity.Rank() < f.told.Rank())
	return d.step(ctx, f, s, care.Person{}, tell)
}

// settled is when the case was repaired or else last became quiet.
func (f *file) settled() (at time.Time) {
	for _, s := range slices.Backward(f.Steps) {
		if s.Act == care.Repair || s.Act == care.Cleared {
			return s.At
		}
	}
	return at
}

// replaced is the alert that a re-run raised this one in place of.
func (d *desk) replaced(id string) *known {
	for old, k := range d.of {
		if d.alerts[old].Superseded == id && !d.alerts[old].Withdrawn.IsZero() {
			return k
		}
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

// join lets a case take in another that the new alert explains as well.
func (d *desk) join(ctx context.Context, from, into *file, a state.Alert) error {
	holder := care.Person{ID: from.Holder, Role: care.Technician}
	if err := d.step(ctx, from, care.Step{At: a.Raised, Act: care.Joined, Text: into.ID}, care.Person{}, false); err != nil {
		return err
	}
	for _, id := range from.Alerts {
		k := d.of[id]
		s := care.Step{At: a.Raised, Act: care.Raised, Alert: id}
		if err := d.step(ctx, into, s, care.Person{}, false); err != nil {
			return err
		}
		k.file, k.dirty = into, true
		if !k.standing {
			if err := d.step(ctx, into, care.Step{At: a.Raised, Act: care.Cleared, Alert: id}, care.Person{}, false); err != nil {
				return err
			}
		}
	}
	into.told = pressing(into.told, from.told)
	if holder.ID == "" || into.Stage != care.Open {
		return nil
	}
	return d.step(ctx, into, care.Step{At: a.Raised, By: holder.ID, Act: care.Acknowledge, Text: textHadIt}, holder, false)
}

func (d *desk) careFiles() (out []care.File) {
	for _, f := range d.files {
		out = append(out, care.File{Case: f.Case, Alerts: d.alertsOf(f)})
	}
	return out
}
