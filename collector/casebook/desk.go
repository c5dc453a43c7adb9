package casebook

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// desk is the cases of one home under work, within one transaction.
type desk struct {
	book   *Book
	q      state.Querier
	tx     *sql.Tx // nil where nothing is written
	home   string
	place  care.Place
	about  detect.Home // its profile; of a home that was removed meanwhile nothing is known
	now    time.Time   // it is judged up to then
	alerts map[string]state.Alert
	files  []*file           // oldest first
	of     map[string]*known // alerts that are in cases, by id
	done   []care.Act        // for the metrics, once committed
}

// file is one case under work.
type file struct {
	care.Case
	told  detect.Severity // the most pressing that people were told of since it was opened
	dirty bool
}

// known is an alert as it was when last taken into account.
type known struct {
	file     *file
	severity detect.Severity
	cause    detect.Cause
	standing bool
	dirty    bool
}

// desk makes a desk. Whatever others are asked for is asked here, before the
// transaction: they may be waiting for the store themselves.
func (b *Book) desk(home string) *desk {
	d := &desk{book: b, home: home, place: b.place(home), now: b.opts.Now(home), alerts: map[string]state.Alert{}, of: map[string]*known{}}
	d.about, _ = b.opts.Home(home)
	return d
}

// open lays the cases of the home out.
func (d *desk) open(ctx context.Context, q state.Querier) error {
	d.q = q
	all, err := state.AlertsIn(ctx, q, d.home)
	if err != nil {
		return err
	}
	for _, a := range all {
		d.alerts[a.ID] = a
	}
	err = rows(ctx, q, func(r *sql.Rows) error {
		f := &file{}
		var c Case
		err := c.scan(r, &f.told)
		f.Case = c.Case
		d.files = append(d.files, f)
		return err
	}, `SELECT `+caseColumns+`, told FROM cases WHERE home = ? ORDER BY opened, id`, d.home)
	if err != nil {
		return err
	}
	for _, f := range d.files {
		if f.Steps, err = steps(ctx, q, f.ID); err != nil {
			return err
		}
	}
	return d.openAlerts(ctx)
}

func (d *desk) openAlerts(ctx context.Context) error {
	return rows(ctx, d.q, func(r *sql.Rows) error {
		var alert, caseID string
		k := &known{}
		if err := r.Scan(&alert, &caseID, &k.severity, &k.cause, &k.standing); err != nil {
			return err
		}
		if k.file = d.file(caseID); k.file == nil {
			return fmt.Errorf("alert %s is of case %s, which is not there", alert, caseID)
		}
		k.file.Alerts = append(k.file.Alerts, alert)
		d.of[alert] = k
		return nil
	}, `SELECT alert, case_id, severity, cause, standing FROM case_alerts WHERE home = ? ORDER BY position`, d.home)
}

func (d *desk) file(id string) *file {
	for _, f := range d.files {
		if f.ID == id {
			return f
		}
	}
	return nil
}

// alertsOf are a case's alerts as they are now; those that a re-run took back
// are left out.
func (d *desk) alertsOf(f *file) (out []detect.Alert) {
	for _, id := range f.Alerts {
		if a, ok := d.alerts[id]; ok && a.Withdrawn.IsZero() {
			out = append(out, a.Alert)
		}
	}
	return out
}

// step takes a step and writes it; who is the zero Person for the engine. tell
// writes it to the outbox too.
func (d *desk) step(ctx context.Context, f *file, s care.Step, who care.Person, tell bool) error {
	next, err := f.Case.Next(s, who.Role)
	if err != nil {
		return err
	}
	result, err := d.tx.ExecContext(ctx, `INSERT INTO steps (case_id, home, at, recorded, "by", role, act, alert, cause, text, due) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		next.ID, d.home, s.At.UnixNano(), d.book.opts.Clock().UnixNano(), s.By, string(who.Role), string(s.Act), s.Alert, string(s.Cause), s.Text, nanos(s.Due))
	if err != nil {
		return err
	}
	seq, err := result.LastInsertId()
	if err != nil {
		return err
	}
	next.Steps[len(next.Steps)-1].Seq = seq
	f.Case, f.dirty = next, true
	d.done = append(d.done, s.Act)
	if !tell {
		return nil
	}
	severity := d.severity(f)
	f.told = pressing(f.told, severity)
	_, err = d.tx.ExecContext(ctx, `INSERT INTO outbox (step, case_id, home, severity) VALUES (?, ?, ?, ?)`, seq, f.ID, d.home, string(severity))
	return err
}

// severity is the most pressing of the alerts that stand, or of all when none
// does.
func (d *desk) severity(f *file) (s detect.Severity) {
	alerts := d.alertsOf(f)
	for _, a := range alerts {
		if a.Open() {
			s = pressing(s, a.Severity)
		}
	}
	if s != "" {
		return s
	}
	for _, a := range alerts {
		s = pressing(s, a.Severity)
	}
	return s
}

// pressing is the more pressing of two; empty is none.
func pressing(a, b detect.Severity) detect.Severity {
	if a == "" || b != "" && b.Rank() < a.Rank() {
		return b
	}
	return a
}

// close hands the metrics and the watchers what was committed.
func (d *desk) close() {
	for _, act := range d.done {
		d.book.metrics.steps.WithLabelValues(string(act)).Inc()
	}
	if len(d.done) > 0 {
		d.book.tell(d.home)
	}
}
