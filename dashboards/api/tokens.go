package api

import (
	"context"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

type TokenView struct {
	ID      string     `json:"id"`
	Name    string     `json:"name"`
	Scope   string     `json:"scope" enum:"read,write,devices"`
	Created time.Time  `json:"created"`
	Expires time.Time  `json:"expires"`
	Used    *time.Time `json:"used" doc:"about when last; null: never"`
}

func viewOfToken(t care.Token) TokenView {
	return TokenView{t.ID, t.Name, string(t.Scope), t.Created.UTC(), t.Expires.UTC(), moment(t.Used)}
}

func (a *API) registerTokens() {
	huma.Register(a.huma, op("GET", "/tokens", "list-tokens", "One's own tokens", 200), a.listTokens)
	huma.Register(a.huma, op("POST", "/tokens", "add-token", "Make a token for a program; not by a token", 201), a.addToken)
	huma.Register(a.huma, op("DELETE", "/tokens/{token}", "remove-token", "Remove one of one's own tokens", 204), a.removeToken)
}

// owner is who asks, for their own tokens.
func (a *API) owner(ctx context.Context) (care.Person, error) {
	p, ok := access.From(ctx)
	if !ok {
		return p, a.fail(care.ErrNone, "account")
	}
	if !access.May(ctx, care.OwnTokens, care.Place{Firm: p.Firm}) {
		return p, forbidden()
	}
	return p, nil
}

func (a *API) listTokens(ctx context.Context, in *struct{ Paging }) (*pageOf[TokenView], error) {
	p, err := a.owner(ctx)
	if err != nil {
		return nil, err
	}
	all, err := a.People.Tokens(ctx, p.ID)
	if err != nil {
		return nil, a.fail(err, "account")
	}
	views := make([]TokenView, len(all))
	for i, t := range all {
		views[i] = viewOfToken(t)
	}
	return slice(views, func(v TokenView) string { return v.Created.Format(sortable) + v.ID }, in.Paging)
}

type newToken struct {
	TokenView
	Secret string `json:"secret" doc:"what to send; it cannot be had again"`
}

func (a *API) addToken(ctx context.Context, in *struct {
	Body struct {
		Name    string    `json:"name" maxLength:"120" doc:"what it is for"`
		Scope   string    `json:"scope" enum:"read,write,devices"`
		Expires time.Time `json:"expires" doc:"within a year"`
	}
}) (*struct{ Body newToken }, error) {
	p, err := a.owner(ctx)
	if err != nil {
		return nil, err
	}
	if access.ByToken(ctx) { // else one that leaks would live for ever
		return nil, forbidden()
	}
	t, secret, err := a.People.AddToken(ctx, care.Token{Person: p.ID, Name: in.Body.Name, Scope: care.Scope(in.Body.Scope), Expires: in.Body.Expires})
	if err != nil {
		return nil, a.fail(err, "account")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "token made", Subject: t.ID, Detail: string(t.Scope)})
	return &struct{ Body newToken }{newToken{viewOfToken(t), secret}}, nil
}

func (a *API) removeToken(ctx context.Context, in *struct {
	Token string `path:"token" maxLength:"100"`
}) (*nothing, error) {
	p, err := a.owner(ctx)
	if err != nil {
		return nil, err
	}
	if err := a.People.RemoveToken(ctx, p.ID, in.Token); err != nil {
		return nil, a.fail(err, "token")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "token removed", Subject: in.Token})
	return &nothing{}, nil
}
