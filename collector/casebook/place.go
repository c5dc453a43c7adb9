package casebook

import (
	"context"
	"slices"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

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
