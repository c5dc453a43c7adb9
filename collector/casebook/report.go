package casebook

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// ReportsCount is how long what people reported counts as evidence: a symptom
// of two months ago says nothing of today. The table of causes takes a fault to
// stand that long, too.
const ReportsCount = 60 * 24 * time.Hour

// Report is what somebody says of a home.
type Report struct {
	At       time.Time                 `json:"at"` // when it was so; zero, or yet to come, for now
	By       string                    `json:"by"` // set by the book
	Symptoms map[string]bool           `json:"symptoms,omitempty"`
	Hardness map[detect.Signal]float64 `json:"hardness_mg_per_l,omitempty"` // by raw_, cold_ and hot_hardness
	Checks   map[string]string         `json:"checks,omitempty"`            // outcome by check; empty takes an answer back
	Note     string                    `json:"note,omitempty"`
}

// validate names the first thing in the report that cannot be.
func (r Report) validate() error {
	checks := maps.Clone(r.Checks)
	for id, outcome := range r.Checks {
		if outcome != "" {
			continue
		}
		if delete(checks, id); cause.Standard().Check(id) == nil {
			return fmt.Errorf("%w: there is no check %q", care.ErrBad, id)
		}
	}
	if err := cause.Standard().Validate(cause.Evidence{Symptoms: r.Symptoms, Hardness: r.Hardness, Checks: checks}); err != nil {
		return fmt.Errorf("%w: %w", care.ErrBad, err)
	}
	if len(r.Note) > MaxText {
		return ErrText
	}
	return nil
}

// lines are the report as it is kept: what, name and value.
func (r Report) lines() (out [][3]string) {
	for _, id := range slices.Sorted(maps.Keys(r.Symptoms)) {
		out = append(out, [3]string{"symptom", id, strconv.FormatBool(r.Symptoms[id])})
	}
	for _, s := range slices.Sorted(maps.Keys(r.Hardness)) {
		out = append(out, [3]string{"hardness", s.String(), strconv.FormatFloat(r.Hardness[s], 'g', -1, 64)})
	}
	for _, id := range slices.Sorted(maps.Keys(r.Checks)) {
		out = append(out, [3]string{"check", id, r.Checks[id]})
	}
	if r.Note != "" {
		out = append(out, [3]string{"note", "", r.Note})
	}
	return out
}

// Report keeps what a person says of a home. To whom the home is not known it is
// not there.
func (b *Book) Report(ctx context.Context, by care.Person, home string, r Report) error {
	if !by.May(care.Report, b.place(home)) {
		return ErrNoHome
	}
	if err := r.validate(); err != nil {
		return err
	}
	err := b.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		at := b.opts.Clock()
		if !r.At.IsZero() && r.At.Before(at) {
			at = r.At
		}
		for _, line := range r.lines() {
			if _, err := tx.ExecContext(ctx, `INSERT INTO reports (home, at, "by", what, name, value) VALUES (?, ?, ?, ?, ?, ?)`,
				home, at.UnixNano(), by.ID, line[0], line[1], line[2]); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		b.tell(home)
	}
	return err
}

// Reports are all that was reported of a home, oldest first.
func (b *Book) Reports(ctx context.Context, home string) (out []Report, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var at sql.NullInt64
		var by, what, name, value string
		if err := r.Scan(&at, &by, &what, &name, &value); err != nil {
			return err
		}
		if n := len(out); n == 0 || !out[n-1].At.Equal(moment(at)) || out[n-1].By != by {
			out = append(out, Report{At: moment(at), By: by})
		}
		return out[len(out)-1].add(what, name, value)
	}, `SELECT at, "by", what, name, value FROM reports WHERE home = ? ORDER BY seq`, home)
	return out, err
}

func (r *Report) add(what, name, value string) (err error) {
	switch what {
	case "symptom":
		put(&r.Symptoms, name, value == "true")
	case "check":
		put(&r.Checks, name, value)
	case "note":
		r.Note = value
	case "hardness":
		var signal detect.Signal
		if signal, err = detect.ParseSignal(name); err != nil {
			return err
		}
		var v float64
		v, err = strconv.ParseFloat(value, 64)
		put(&r.Hardness, signal, v)
	}
	return err
}

func put[K comparable, V any](m *map[K]V, k K, v V) {
	if *m == nil {
		*m = map[K]V{}
	}
	(*m)[k] = v
}

// Evidence is what the alerts that stand and the newest reports tell of a home.
// Reports from before its last repair say nothing of what is wrong now. Which
// findings the home's sensors would show, and the profile, are the caller's to
// add.
func (b *Book) Evidence(ctx context.Context, home string) (cause.Evidence, error) {
	now := b.opts.Clock()
	from := now.Add(-ReportsCount)
	var e evidence
	err := b.opts.State.View(ctx, func(q state.Querier) error {
		alerts, err := state.AlertsIn(ctx, q, home)
		if err != nil {
			return err
		}
		for _, a := range alerts {
			if a.Open() && a.Withdrawn.IsZero() {
				e.Findings = append(e.Findings, cause.Finding{Kind: a.Kind, Details: a.Evidence})
				e.Age = max(e.Age, now.Sub(a.Onset))
			}
		}
		return rows(ctx, q, func(r *sql.Rows) error {
			var at sql.NullInt64
			err := r.Scan(&at)
			from = later(from, moment(at))
			return err
		}, `SELECT max(at) FROM steps WHERE home = ? AND act = ?`, home, string(care.Repair))
	})
	if err != nil {
		return cause.Evidence(e), err
	}
	reports, err := b.Reports(ctx, home)
	e.reported(reports, from)
	return cause.Evidence(e), err
}
