package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

// place is where a home belongs, or care.ErrNone.
func (a *API) place(ctx context.Context, home string) (care.Place, error) {
	if a.People != nil {
		return a.People.Place(ctx, home)
	}
	if _, ok := a.Homes.Home(home); ok {
		return care.Place{Home: home}, nil
	}
	return care.Place{}, care.ErrNone
}

// at is where a home belongs, when who asks may do an action there; else what to
// answer.
func (a *API) at(ctx context.Context, home string, action care.Action) (care.Place, error) {
	at, err := a.place(ctx, home)
	if err == nil && !access.Knows(ctx, at) {
		err = care.ErrNone
	}
	if err != nil {
		return at, a.fail(err, "home")
	}
	if !access.May(ctx, action, at) {
		return at, forbidden()
	}
	return at, nil
}

// in is whether who asks may do an action in a firm; else what to answer. To
// whom the firm is foreign it is not there.
func (a *API) in(ctx context.Context, firm string, action care.Action) error {
	at := care.Place{Firm: firm}
	if access.May(ctx, action, at) {
		return nil
	}
	p, _ := access.From(ctx)
	if p.Firm == firm && firm != "" {
		return forbidden()
	}
	return a.fail(care.ErrNone, "firm")
}

func forbidden() error { return huma.Error403Forbidden("This account or token does not allow that.") }

// fail is what to answer for an error about a thing.
func (a *API) fail(err error, thing string) error {
	if refusal, ok := errors.AsType[*care.Refusal](err); ok {
		return huma.Error409Conflict(refusal.Error())
	}
	switch {
	case err == nil:
		return nil
	case errors.Is(err, care.ErrNone):
		return huma.Error404NotFound("There is no such " + thing + ".")
	case errors.Is(err, care.ErrTaken):
		return huma.Error409Conflict("That id or e-mail address is taken already.")
	case errors.Is(err, ErrStale):
		return huma.Error409Conflict("It has changed meanwhile. Read it again.")
	case errors.Is(err, care.ErrBad):
		return huma.Error422UnprocessableEntity(strings.TrimPrefix(err.Error(), care.ErrBad.Error()+": "))
	case errors.Is(err, context.Canceled):
		return huma.NewError(499, "The request was given up.")
	}
	a.Logger.Error("an operation failed", "about", thing, "error", err)
	return huma.Error500InternalServerError("That did not work just now; the log says why.")
}

// problem answers as RFC 9457 says.
func problem(w http.ResponseWriter, status int, detail string) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	// The client may be gone; there is nobody else to tell.
	_ = json.NewEncoder(w).Encode(huma.ErrorModel{Title: http.StatusText(status), Status: status, Detail: detail})
}

// note adds to the audit trail; an action is not undone because that fails.
func (a *API) note(ctx context.Context, d care.Deed) {
	if a.People == nil {
		return
	}
	d.Person = a.asker(ctx).ID
	d.Address, _ = ctx.Value(addressKey{}).(string)
	if err := a.People.Note(ctx, d); err != nil {
		a.Logger.Error("the audit trail was not written", "act", d.Act, "error", err)
	}
}

type addressKey struct{}
