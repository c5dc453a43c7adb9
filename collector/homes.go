package collector

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"

	"brinebell/collector/state"
	"brinebell/detect"
)

// registry is the homes that are collected for.
type registry struct {
	mu   sync.RWMutex
	byID map[string]detect.Home // guarded by mu
}

func (r *registry) has(id string) bool { _, ok := r.get(id); return ok }

func (r *registry) get(id string) (detect.Home, bool) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	h, ok := r.byID[id]
	return h, ok
}

// all are the homes in order of their ids.
func (r *registry) all() []detect.Home {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return slices.SortedFunc(maps.Values(r.byID), func(a, b detect.Home) int { return cmp.Compare(a.ID, b.ID) })
}

func (r *registry) put(h detect.Home) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.byID == nil {
		r.byID = map[string]detect.Home{}
	}
	r.byID[h.ID] = h
}

func (r *registry) remove(id string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.byID, id)
}

// loadHomes notes the homes of the options, and those that were kept.
func (c *Collector) loadHomes(ctx context.Context) error {
	for _, h := range c.opts.Homes {
		c.homes.put(h)
	}
	for id, text := range c.opts.Profiles {
		if err := c.state.FileHome(ctx, state.Home{ID: id, Profile: text}); err != nil {
			return err
		}
	}
	if !c.opts.Kept {
		return nil
	}
	kept, err := c.state.Homes(ctx)
	if err != nil {
		return err
	}
	for _, k := range kept {
		h, err := detect.ReadHome("kept profile of "+k.ID, k.Profile)
		if err != nil {
			return fmt.Errorf("%w\nThis version cannot read what was kept of that home; mend it in the homes file", err)
		}
		c.homes.put(h)
	}
	return nil
}

// Profile is a home's profile as text.
func (c *Collector) Profile(ctx context.Context, home string) (string, error) {
	if !c.homes.has(home) {
		return "", ErrNoHome(home)
	}
	kept, err := c.state.Home(ctx, home)
	return kept.Profile, err
}

// PutHome takes in a home, or another profile of one, while running. The profile
// is h as text. What was judged before stays where it still holds; see
// detect.JudgeAgain. After an error everything is as it was.
func (c *Collector) PutHome(ctx context.Context, h detect.Home, profile string) error {
	c.changing.Lock()
	defer c.changing.Unlock()
	old, err := c.state.Home(ctx, h.ID)
	if err != nil {
		return err
	}
	if err := c.state.SaveHome(ctx, state.Home{ID: h.ID, Profile: profile}); err != nil {
		return err
	}
	if err := c.judge.Put(ctx, h); err != nil {
		// The request may be over, which must not leave half of it.
		ctx := context.WithoutCancel(ctx)
		if old.Profile == "" {
			return errors.Join(err, c.judge.Remove(ctx, h.ID), c.state.EraseHome(ctx, h.ID))
		}
		return errors.Join(err, c.state.SaveHome(ctx, old))
	}
	c.homes.put(h) // last: readings that are taken in must be judged
	return nil
}

// Eraser is a series store that can erase a home's readings.
type Eraser interface {
	// Erase erases every reading of a home: none can be read when it returns.
	Erase(ctx context.Context, home string) error
}

// ErrCannotErase means that the series store keeps readings that it cannot
// erase by itself.
var ErrCannotErase = errors.New("everything but the readings is erased; the series store cannot erase by itself, so that must be done there")

// RemoveHome ends the collecting for a home and erases all its data: readings,
// what was judged from them, cases, reports, devices. It cannot be undone, and
// can be done again when it failed half-way.
func (c *Collector) RemoveHome(ctx context.Context, home string) error {
	c.changing.Lock()
	defer c.changing.Unlock()
	if !c.homes.has(home) {
		return ErrNoHome(home)
	}
	ctx = context.WithoutCancel(ctx) // begun, it is carried through
	c.homes.remove(home)
	c.intake.Between()
	err := c.judge.Remove(ctx, home)
	cannot := c.eraseReadings(ctx, home)
	if err == nil && (cannot == nil || errors.Is(cannot, ErrCannotErase)) {
		err = errors.Join(c.book.Erase(ctx, home), c.state.EraseHome(ctx, home))
	}
	return errors.Join(err, cannot)
}

func (c *Collector) eraseReadings(ctx context.Context, home string) error {
	if e, ok := c.store.(Eraser); ok {
		return e.Erase(ctx, home)
	}
	return ErrCannotErase
}
