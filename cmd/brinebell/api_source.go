package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"brinebell/collector"
	"brinebell/collector/casebook"
	"brinebell/collector/people"
	"brinebell/dashboards/api"
	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// apiHomes lets the interface for programs see and change a collector's homes.
type apiHomes struct {
	*source
	people *people.Store // nil where nobody signs in
}

var _ api.Homes = apiHomes{}

// notThere makes an unknown home care.ErrNone.
func notThere(err error) error {
	if _, none := errors.AsType[collector.ErrNoHome](err); none {
		return care.ErrNone
	}
	return err
}

func (h apiHomes) Home(id string) (detect.Home, bool) { return h.collector.Home(id) }

func (h apiHomes) Profile(ctx context.Context, home string) (string, error) {
	text, err := h.collector.Profile(ctx, home)
	return text, notThere(err)
}

func (h apiHomes) PutHome(ctx context.Context, profile detect.Home, text string) error {
	return notThere(h.collector.PutHome(ctx, profile, text))
}

func (h apiHomes) RemoveHome(ctx context.Context, home string) error {
	return notThere(h.collector.RemoveHome(ctx, home))
}

func (h apiHomes) Export(ctx context.Context, home string, out io.Writer) error {
	extra := map[string]any{}
	if h.people != nil {
		devices, err := h.people.Devices(ctx, home)
		if err != nil {
			return err
		}
		audit, err := h.people.Audit(ctx, care.DeedQuery{Home: home, Most: 1_000_000})
		if err != nil {
			return err
		}
		extra["devices.json"], extra["audit.json"] = devices, audit
	}
	return notThere(h.collector.Export(ctx, home, out, extra))
}

func (h apiHomes) Regenerations(ctx context.Context, home string, from, to time.Time) ([]api.Regeneration, error) {
	stored, err := h.collector.Regenerations(ctx, home, from, to)
	out := make([]api.Regeneration, len(stored))
	for i, r := range stored {
		out[i] = api.Regeneration{Record: r.Record, Entry: r.Entry}
	}
	return out, notThere(err)
}

func (h apiHomes) Points(ctx context.Context, home string, signal detect.Signal, from, to time.Time, most int) ([]api.Point, error) {
	points, err := h.source.Points(ctx, home, signal, from, to, most)
	out := make([]api.Point, len(points))
	for i, p := range points {
		out[i] = api.Point{Time: p.Time, Min: p.Min, Mean: p.Mean, Max: p.Max}
	}
	return out, notThere(err)
}

func (h apiHomes) Latest(ctx context.Context, home string) (map[detect.Signal]api.Value, error) {
	latest, err := h.collector.Latest(ctx, home)
	out := make(map[detect.Signal]api.Value, len(latest))
	for s, p := range latest {
		out[s] = api.Value{Time: p.Time, Value: p.Value}
	}
	return out, notThere(err)
}

func (h apiHomes) Refused() (out []api.Refused) {
	for _, q := range h.collector.Quarantine() {
		out = append(out, api.Refused{Topic: q.Topic, Reason: string(q.Reason), Detail: q.Detail, Count: q.Count, First: q.First, Last: q.Last})
	}
	return out
}

// apiCases lets programs see and move the cases.
type apiCases struct{ book *casebook.Book }

var _ api.Cases = apiCases{}

// told is an error of the casebook in the words of the interface.
func told(err error) error {
	switch {
	case errors.Is(err, casebook.ErrNoCase), errors.Is(err, casebook.ErrNoHome), errors.Is(err, casebook.ErrNoConfirmation):
		return care.ErrNone
	case errors.Is(err, casebook.ErrVersion):
		return api.ErrStale
	case errors.Is(err, casebook.ErrCursor), errors.Is(err, casebook.ErrText):
		return fmt.Errorf("%w: %w", care.ErrBad, err)
	}
	if plain, ok := errors.AsType[interface {
		error
		Plain() string
	}](err); ok {
		return fmt.Errorf("%w: %s", care.ErrBad, plain.Plain())
	}
	return err
}

func (c apiCases) List(ctx context.Context, q api.CaseQuery) (out []api.Case, next string, err error) {
	query := casebook.Query{Homes: q.Homes, Stages: q.Stages, Since: q.Since, After: q.After, Limit: q.Limit}
	if q.ByChange {
		query.Order = casebook.ByChange
	}
	page, err := c.book.List(ctx, query)
	for _, found := range page.Cases {
		out = append(out, api.Case(found))
	}
	return out, page.Next, told(err)
}

func (c apiCases) Case(ctx context.Context, id string) (api.Case, error) {
	found, err := c.book.Case(ctx, id)
	return api.Case(found), told(err)
}

func (c apiCases) Act(ctx context.Context, by care.Person, id string, d api.Doing) (api.Case, error) {
	moved, err := c.book.Act(ctx, by, id, casebook.Doing(d))
	return api.Case(moved), told(err)
}

func (c apiCases) Report(ctx context.Context, by care.Person, home string, r api.Report) error {
	return told(c.book.Report(ctx, by, home, casebook.Report(r)))
}

func (c apiCases) Reports(ctx context.Context, home string) ([]api.Report, error) {
	all, err := c.book.Reports(ctx, home)
	out := make([]api.Report, len(all))
	for i, r := range all {
		out[i] = api.Report(r)
	}
	return out, told(err)
}

func (c apiCases) Evidence(ctx context.Context, home string) (cause.Evidence, error) {
	e, err := c.book.Evidence(ctx, home)
	return e, told(err)
}

func (c apiCases) Experience(ctx context.Context, firm string) (cause.Experience, error) {
	return c.book.Experience(ctx, firm)
}

func (c apiCases) Confirmations(ctx context.Context, firm string) (out []api.Confirmation, err error) {
	all, err := c.book.Confirmations(ctx, firm)
	for _, k := range all {
		v := api.Confirmation{ID: k.ID, Home: k.Home, Case: k.Case, Cause: k.Cause, By: k.By, At: k.At}
		if !k.Undone.IsZero() {
			v.Undone = &k.Undone
		}
		out = append(out, v)
	}
	return out, err
}

func (c apiCases) Undo(ctx context.Context, by care.Person, id int64) error {
	return told(c.book.Undo(ctx, by, id))
}
