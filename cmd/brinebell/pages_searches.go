package main

import (
	"context"

	"brinebell/collector/state"
	"brinebell/dashboards/web"
)

// pageSearches lets the pages keep searches in the state store.
type pageSearches struct{ db *state.DB }

var _ web.Searches = pageSearches{}

func (p pageSearches) Searches(ctx context.Context, person string) ([]web.Search, error) {
	kept, err := p.db.Searches(ctx, person)
	out := make([]web.Search, len(kept))
	for i, s := range kept {
		out[i] = web.Search(s)
	}
	return out, err
}

func (p pageSearches) SaveSearch(ctx context.Context, person string, s web.Search) error {
	return p.db.SaveSearch(ctx, person, state.Search(s))
}

func (p pageSearches) ForgetSearch(ctx context.Context, person, name string) error {
	return p.db.ForgetSearch(ctx, person, name)
}
