package people

import (
	"context"
	"errors"

	"brinebell/detect/care"
)

// Told is the store as who tells people needs it.
type Told struct{ *Store }

// Told are those who may see a home's life and have a way to be told.
func (t Told) Told(ctx context.Context, home string) ([]care.Person, error) {
	all, err := t.AtHome(ctx, home)
	if errors.Is(err, care.ErrNone) {
		return nil, nil
	}
	var out []care.Person
	for _, p := range all {
		if len(p.Channels) > 0 {
			out = append(out, p)
		}
	}
	return out, err
}

// Person is somebody who is there and not disabled.
func (t Told) Person(ctx context.Context, id string) (p care.Person, ok bool, err error) {
	p, err = t.Store.Person(ctx, id)
	if errors.Is(err, care.ErrNone) {
		return care.Person{}, false, nil
	}
	return p, err == nil && !p.Disabled, err
}
