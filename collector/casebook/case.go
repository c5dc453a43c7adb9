package casebook

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// Case is a case with what follows from it.
type Case struct {
	care.Case
	Version  int64            // number of the last step
	Opened   time.Time        // its first step
	Changed  time.Time        // when its last step was written, by the clock
	Severity detect.Severity  // the most pressing of the alerts that stand; of all when none stands
	Kind     detect.Kind      // of the lead
	Cause    detect.Cause     // confirmed, or the lead's first; may be empty
	Loss     care.Loss        // a day of waiting
	Watch    *care.WatchState // how far the watch is, of a case that is watched
	Standing []string         // ids of the alerts that stand
}

const caseColumns = `id, home, stage, lead, holder, due, joined, version, opened, changed, severity, kind, cause, loss`

// scan reads caseColumns and what more was asked for.
func (c *Case) scan(r *sql.Rows, more ...any) error {
	var due, opened, changed sql.NullInt64
	var loss []byte
	err := r.Scan(append([]any{&c.ID, &c.Home, &c.Stage, &c.Lead, &c.Holder, &due, &c.Into, &c.Version, &opened, &changed, &c.Severity, &c.Kind, &c.Cause, &loss}, more...)...)
	if err != nil {
		return err
	}
	c.Due, c.Opened, c.Changed = moment(due), moment(opened), moment(changed)
	return json.Unmarshal(loss, &c.Loss)
}

// Case is a case with all its steps.
func (b *Book) Case(ctx context.Context, id string) (c Case, err error) {
	err = b.opts.State.View(ctx, func(q state.Querier) (err error) {
		c, err = load(ctx, q, id)
		return err
	})
	if err != nil {
		return Case{}, plain(err)
	}
	return c, b.addWatch(ctx, &c)
}

// load reads a case with all its steps.
func load(ctx context.Context, q state.Querier, id string) (c Case, err error) {
	err = rows(ctx, q, func(r *sql.Rows) error { return c.scan(r) }, `SELECT `+caseColumns+` FROM cases WHERE id = ?`, id)
	if err == nil && c.ID == "" {
		err = ErrNoCase
	}
	if err != nil {
		return c, err
	}
	if c.Steps, err = steps(ctx, q, id); err != nil {
		return c, err
	}
	return c, c.loadAlerts(ctx, q)
}

func (c *Case) loadAlerts(ctx context.Context, q state.Querier) error {
	return rows(ctx, q, func(r *sql.Rows) error {
		var id string
		var standing bool
		err := r.Scan(&id, &standing)
		if c.Alerts = append(c.Alerts, id); standing {
			c.Standing = append(c.Standing, id)
		}
		return err
	}, `SELECT alert, standing FROM case_alerts WHERE case_id = ? ORDER BY position`, c.ID)
}

const stepColumns = `seq, at, "by", act, alert, cause, text, due`

func scanStep(r *sql.Rows) (s care.Step, err error) {
	var at, due sql.NullInt64
	err = r.Scan(&s.Seq, &at, &s.By, &s.Act, &s.Alert, &s.Cause, &s.Text, &due)
	s.At, s.Due = moment(at), moment(due)
	return s, err
}

// steps are a case's steps, oldest first.
func steps(ctx context.Context, q state.Querier, id string) (out []care.Step, err error) {
	err = rows(ctx, q, func(r *sql.Rows) error {
		s, err := scanStep(r)
		out = append(out, s)
		return err
	}, `SELECT `+stepColumns+` FROM steps WHERE case_id = ? ORDER BY seq`, id)
	return out, err
}

// OfAlert is the case that an alert is in.
func (b *Book) OfAlert(ctx context.Context, alert string) (caseID string, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error { return r.Scan(&caseID) }, `SELECT case_id FROM case_alerts WHERE alert = ?`, alert)
	if err == nil && caseID == "" {
		err = ErrNoCase
	}
	return caseID, err
}

// plain is one of this package's errors, or a refusal, without the store's name
// before it.
func plain(err error) error {
	if p := Plain(""); errors.As(err, &p) {
		return p
	}
	if r := (*care.Refusal)(nil); errors.As(err, &r) {
		return r
	}
	return err
}
