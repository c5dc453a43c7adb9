package access

import (
	"context"

	"brinebell/detect/care"
)

// viewer is who asks, and how far their token reaches.
type viewer struct {
	person care.Person
	scope  care.Scope
	token  bool
}

type contextKey struct{}

// From is the person who asks; ok is false where nobody has to sign in.
func From(ctx context.Context) (p care.Person, ok bool) {
	v, ok := ctx.Value(contextKey{}).(viewer)
	return v.person, ok
}

// With is a context in which a person who has signed in asks.
func With(ctx context.Context, p care.Person) context.Context {
	return context.WithValue(ctx, contextKey{}, viewer{p, care.WriteScope, false})
}

// WithToken is a context in which a program asks for a person.
func WithToken(ctx context.Context, p care.Person, scope care.Scope) context.Context {
	return context.WithValue(ctx, contextKey{}, viewer{p, scope, true})
}

// ByToken says whether a program asks, and not somebody who has signed in.
func ByToken(ctx context.Context) bool {
	v, _ := ctx.Value(contextKey{}).(viewer)
	return v.token
}

// May says whether who asks may do something at a place: the person may, and
// the token reaches as far. Where nobody has to sign in everybody may.
func May(ctx context.Context, a care.Action, at care.Place) bool {
	v, ok := ctx.Value(contextKey{}).(viewer)
	return !ok || v.person.May(a, at) && v.scope.Covers(a)
}

// Knows says whether who asks may know that a home exists, whatever their token
// is good for.
func Knows(ctx context.Context, at care.Place) bool {
	v, ok := ctx.Value(contextKey{}).(viewer)
	return !ok || v.person.Knows(at)
}
