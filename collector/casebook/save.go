package casebook

import (
	"context"
	"encoding/json"
	"slices"

	"brinebell/detect"
	"brinebell/detect/care"
)

// save writes what has changed of the cases and their alerts.
func (d *desk) save(ctx context.Context) error {
	for _, f := range d.files {
		if !f.dirty {
			continue
		}
		if err := d.saveFile(ctx, f); err != nil {
			return err
		}
	}
	for id, k := range d.of {
		if !k.dirty {
			continue
		}
		_, err := d.tx.ExecContext(ctx, `INSERT INTO case_alerts (alert, home, case_id, position, severity, cause, standing) VALUES (?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (alert) DO UPDATE SET case_id = excluded.case_id, position = excluded.position, severity = excluded.severity, cause = excluded.cause, standing = excluded.standing`,
			id, d.home, k.file.ID, slices.Index(k.file.Alerts, id), string(k.severity), string(k.cause), k.standing)
		if err != nil {
			return err
		}
	}
	return nil
}

func (d *desk) saveFile(ctx context.Context, f *file) error {
	alerts := d.alertsOf(f)
	lead := care.Lead(alerts)
	if lead.ID != "" {
		f.Lead = lead.ID
	} else if a, ok := d.alerts[f.Lead]; ok {
		lead = a.Alert // all were taken back
	}
	loss := care.Waiting(d.about, alerts)
	parts, err := json.Marshal(loss)
	if err != nil {
		return err
	}
	_, err = d.tx.ExecContext(ctx, `INSERT INTO cases (id, home, stage, lead, holder, due, joined, version, opened, changed, severity, told, kind, cause, per_day, loss)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET stage = excluded.stage, lead = excluded.lead, holder = excluded.holder, due = excluded.due, joined = excluded.joined,
			version = excluded.version, changed = excluded.changed, severity = excluded.severity, told = excluded.told, kind = excluded.kind, cause = excluded.cause,
			per_day = excluded.per_day, loss = excluded.loss`,
		f.ID, d.home, string(f.Stage), f.Lead, f.Holder, nanos(f.Due), f.Into, f.Last().Seq, f.Steps[0].At.UnixNano(), d.book.opts.Clock().UnixNano(),
		string(d.severity(f)), string(f.told), string(lead.Kind), string(likeliest(f.Case, lead)), loss.PerDay, string(parts))
	return err
}

// likeliest is the cause of a case: what was confirmed since it was last opened,
// or the first of its lead.
func likeliest(c care.Case, lead detect.Alert) detect.Cause {
	for _, s := range slices.Backward(c.Steps) {
		switch s.Act {
		case care.Repair:
			return s.Cause
		case care.Reopened:
			return care.FirstCause(lead).Cause
		}
	}
	return care.FirstCause(lead).Cause
}
