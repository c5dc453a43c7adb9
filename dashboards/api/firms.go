package api

import (
	"context"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

type FirmView struct {
	ID   string `json:"id" maxLength:"40"`
	Name string `json:"name" maxLength:"120"`
}

type FirmPath struct {
	Firm string `path:"firm" maxLength:"100" doc:"id of the firm"`
}

func (a *API) registerFirms() {
	huma.Register(a.huma, op("GET", "/firms", "list-firms", "One's own firm; all for operators", 200), a.listFirms)
	huma.Register(a.huma, op("POST", "/firms", "add-firm", "Add a firm", 201), a.addFirm)
	huma.Register(a.huma, op("GET", "/firms/{firm}", "get-firm", "A firm", 200), a.getFirm)
	huma.Register(a.huma, op("PUT", "/firms/{firm}", "put-firm", "Give a firm another name", 204), a.putFirm)
}

// sees says whether who asks may know of a firm: their own, or any for an
// operator.
func sees(ctx context.Context, firm string) bool {
	p, signed := access.From(ctx)
	return !signed || p.Firm == firm || p.Role == care.Operator
}

func (a *API) listFirms(ctx context.Context, in *struct{ Paging }) (*pageOf[FirmView], error) {
	all, err := a.People.Firms(ctx)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	var views []FirmView
	for _, f := range all {
		if sees(ctx, f.ID) {
			views = append(views, FirmView{f.ID, f.Name})
		}
	}
	return slice(views, func(f FirmView) string { return f.ID }, in.Paging)
}

func (a *API) getFirm(ctx context.Context, in *FirmPath) (*struct{ Body FirmView }, error) {
	if !sees(ctx, in.Firm) {
		return nil, a.fail(care.ErrNone, "firm")
	}
	f, err := a.People.Firm(ctx, in.Firm)
	return &struct{ Body FirmView }{FirmView{f.ID, f.Name}}, a.fail(err, "firm")
}

func (a *API) addFirm(ctx context.Context, in *struct{ Body FirmView }) (*struct{ Body FirmView }, error) {
	if !access.May(ctx, care.SetUpFirms, care.Place{}) {
		return nil, forbidden()
	}
	if err := a.People.AddFirm(ctx, care.Firm{ID: in.Body.ID, Name: in.Body.Name}); err != nil {
		return nil, a.fail(err, "firm")
	}
	a.note(ctx, care.Deed{Firm: in.Body.ID, Act: "firm added", Subject: in.Body.ID})
	return &struct{ Body FirmView }{in.Body}, nil
}

func (a *API) putFirm(ctx context.Context, in *struct {
	FirmPath
	Body struct {
		Name string `json:"name" maxLength:"120"`
	}
}) (*nothing, error) {
	if !sees(ctx, in.Firm) {
		return nil, a.fail(care.ErrNone, "firm")
	}
	if !access.May(ctx, care.SetUpFirms, care.Place{Firm: in.Firm}) {
		return nil, forbidden()
	}
	if err := a.People.RenameFirm(ctx, care.Firm{ID: in.Firm, Name: in.Body.Name}); err != nil {
		return nil, a.fail(err, "firm")
	}
	a.note(ctx, care.Deed{Firm: in.Firm, Act: "firm renamed", Subject: in.Firm})
	return &nothing{}, nil
}
