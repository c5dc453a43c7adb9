package api

import (
	"context"
	"strconv"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

type deedView struct {
	ID      int64     `json:"id"`
	At      time.Time `json:"at"`
	Person  string    `json:"person" doc:"id; empty for the command line"`
	Firm    string    `json:"firm"`
	Home    string    `json:"home,omitempty"`
	Act     string    `json:"act"`
	Subject string    `json:"subject" doc:"id of what it was done to"`
	Detail  string    `json:"detail,omitempty"`
	Address string    `json:"address,omitempty" doc:"where the request came from"`
}

func (a *API) registerAudit() {
	huma.Register(a.huma, op("GET", "/audit", "list-audit", "Who did what, newest first", 200), a.listAudit)
	huma.Register(a.huma, op("GET", "/refused", "list-refused", "What sensors sent that could not be used, and why", 200), a.listRefused)
}

func (a *API) listAudit(ctx context.Context, in *struct {
	Paging
	Firm string `query:"firm" doc:"whose; one's own when not given, all for operators"`
	Home string `query:"home" doc:"only about this home"`
}) (*pageOf[deedView], error) {
	p, _ := access.From(ctx)
	if in.Firm == "" {
		in.Firm = p.Firm
	}
	if err := a.in(ctx, in.Firm, care.SeeAudit); err != nil {
		return nil, err
	}
	q := care.DeedQuery{Firm: in.Firm, Home: in.Home, Most: in.Limit + 1}
	if in.After != "" {
		key, err := decodeCursor(in.After)
		if err != nil {
			return nil, err
		}
		if q.Before, err = strconv.ParseInt(key, 10, 64); err != nil {
			return nil, huma.Error422UnprocessableEntity("after is not what a page gave as next")
		}
	}
	all, err := a.People.Audit(ctx, q)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	out := &pageOf[deedView]{Body: page[deedView]{Items: []deedView{}}}
	for i, d := range all {
		if i == in.Limit {
			out.Body.Next = encodeCursor(strconv.FormatInt(all[i-1].ID, 10))
			break
		}
		out.Body.Items = append(out.Body.Items, deedView{d.ID, d.At.UTC(), d.Person, d.Firm, d.Home, d.Act, d.Subject, d.Detail, d.Address})
	}
	return out, nil
}

func (a *API) listRefused(ctx context.Context, _ *struct{}) (*struct{ Body page[Refused] }, error) {
	if !access.May(ctx, care.SeeService, care.Place{}) {
		return nil, forbidden()
	}
	return &struct{ Body page[Refused] }{page[Refused]{Items: append([]Refused{}, a.Homes.Refused()...)}}, nil
}
