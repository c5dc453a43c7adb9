package main

import (
	"context"
	"errors"
	"time"

	"brinebell/collector/casebook"
	"brinebell/dashboards/web"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// pageCases lets the pages see and move the cases.
type pageCases struct {
	book *casebook.Book
	// as is who acts where nobody signs in; the zero Person where people do.
	as care.Person
}

var (
	_ web.Cases   = pageCases{}
	_ web.Weigher = pageCases{}
)

// mostOpen bounds how many cases one page lists: by then they are fleet-wide
// and ordered by what waiting costs, and nobody reads on.
const mostOpen = 1000

func (p pageCases) Open(ctx context.Context, homes []string) (out []web.Case, err error) {
	q := casebook.Query{Homes: homes, Limit: casebook.MaxLimit}
	for {
		page, err := p.book.List(ctx, q)
		if err != nil {
			return nil, err
		}
		for _, c := range page.Cases {
			out = append(out, web.Case(c))
		}
		if q.After = page.Next; q.After == "" || len(out) >= mostOpen {
			return out, nil
		}
	}
}

func (p pageCases) Case(ctx context.Context, id string) (c web.Case, ok bool, err error) {
	found, err := p.book.Case(ctx, id)
	if errors.Is(err, casebook.ErrNoCase) {
		if id, err = p.book.OfAlert(ctx, id); err == nil {
			found, err = p.book.Case(ctx, id)
		}
	}
	if errors.Is(err, casebook.ErrNoCase) {
		return c, false, nil
	}
	return web.Case(found), err == nil, err
}

func (p pageCases) Act(ctx context.Context, by care.Person, id string, d web.Doing) error {
	_, err := p.book.Act(ctx, p.who(by), id, casebook.Doing(d))
	return err
}

func (p pageCases) Report(ctx context.Context, by care.Person, home string, r web.Report) error {
	return p.book.Report(ctx, p.who(by), home, casebook.Report(r))
}

func (p pageCases) Reports(ctx context.Context, home string) ([]web.Report, error) {
	all, err := p.book.Reports(ctx, home)
	out := make([]web.Report, len(all))
	for i, r := range all {
		out[i] = web.Report(r)
	}
	return out, err
}

func (p pageCases) Evidence(ctx context.Context, home string) (cause.Evidence, error) {
	return p.book.Evidence(ctx, home)
}

func (p pageCases) FalseAlarms(ctx context.Context, firm string) (out []web.FalseAlarm, err error) {
	if firm == "" {
		firm = p.as.Firm
	}
	all, err := p.book.FalseAlarms(ctx, firm)
	for _, f := range all { // by kind, one after the other
		if n := len(out); n > 0 && out[n-1].Kind == f.Kind {
			out[n-1].Said += f.Said
			out[n-1].Raised += f.Raised
			continue
		}
		out = append(out, web.FalseAlarm{Kind: f.Kind, Said: f.Said, Raised: f.Raised})
	}
	return out, err
}

// who acts.
func (p pageCases) who(by care.Person) care.Person {
	if by.Role == "" {
		return p.as
	}
	return by
}

// The one who looks on in a demonstration may do everything that a firm's
// manager may.
const demoFirm = "demo"

func onlooker() care.Person {
	return care.Person{ID: "you", Name: "You", Firm: demoFirm, Role: care.Manager}
}

// demoWatchEvery judges watches often enough for simulated days that pass in
// seconds.
const demoWatchEvery = 2 * time.Second
