package collector

import (
	"context"
	"fmt"
	"time"

	"brinebell/collector/intake"
	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
)

// ErrNoHome is an id that no home has.
type ErrNoHome string

// Error names the id.
func (e ErrNoHome) Error() string { return fmt.Sprintf("no home has the id %q", string(e)) }

// Homes are the profiles of all homes, in order of their ids.
func (c *Collector) Homes() []detect.Home { return c.homes.all() }

// Alerts are the alerts of a home, or of all homes when it is empty, in the
// order in which they were raised. Withdrawn ones are among them.
func (c *Collector) Alerts(ctx context.Context, home string) ([]state.Alert, error) {
	return c.state.Alerts(ctx, home)
}

// Regenerations are the recognised regenerations of a home that began in
// from <= start < to, in order, with what the books say of them.
func (c *Collector) Regenerations(ctx context.Context, home string, from, to time.Time) ([]state.Regeneration, error) {
	return c.state.Regenerations(ctx, home, from, to)
}

// Books are a home's books; ok is false until every home has caught up with the
// store.
func (c *Collector) Books(home string) (b books.Books, ok bool) { return c.judge.Books(home) }

// Latest is the newest reading of each signal that a home has any of.
func (c *Collector) Latest(ctx context.Context, home string) (map[detect.Signal]series.Point, error) {
	if !c.homes.has(home) {
		return nil, ErrNoHome(home)
	}
	signals, err := c.store.Signals(ctx, home)
	if err != nil {
		return nil, err
	}
	latest := map[detect.Signal]series.Point{}
	for _, s := range signals {
		p, ok, err := c.store.Latest(ctx, home, s)
		if err != nil {
			return nil, err
		}
		if ok {
			latest[s] = p
		}
	}
	return latest, nil
}

// Points are the readings of a home's signal in from <= time < to, in at most
// some maxPoints buckets of equal length. What is older than readings are kept
// comes from sums, where the store has them.
func (c *Collector) Points(ctx context.Context, home string, signal detect.Signal, from, to time.Time, maxPoints int) ([]Bucket, error) {
	if !c.homes.has(home) {
		return nil, ErrNoHome(home)
	}
	width := to.Sub(from) / time.Duration(max(maxPoints, 1))
	points, err := c.store.Read(ctx, home, signal, from, to)
	if err != nil {
		return nil, err
	}
	older, err := c.older(ctx, home, signal, from, to, width, points)
	if err != nil || len(older) == 0 {
		return downsample(points, from, to, maxPoints), err
	}
	for _, p := range points {
		older = append(older, Bucket{Start: p.Time, End: p.Time, Count: 1, Min: p.Value, Max: p.Value, Mean: p.Value, First: p.Value, Last: p.Value})
	}
	return fold(older, from, width+1), nil
}

// Quarantine lists what could not be used, newest first.
func (c *Collector) Quarantine() []intake.Quarantined { return c.intake.Quarantine() }

// Health says how the collector is.
type Health struct {
	Ready     bool // readings are taken in
	Behind    int  // homes that have yet to be judged up to the store, after a start
	Connected bool // to a broker elsewhere; always true when it is embedded
}

// Health says how the collector is now.
func (c *Collector) Health() Health {
	h := Health{Connected: c.client == nil || c.client.Connected(), Behind: c.judge.Behind()}
	select {
	case <-c.judge.Ready():
		h.Ready = true
	default:
	}
	return h
}
