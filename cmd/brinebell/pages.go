package main

import (
	"context"
	"sync"
	"time"

	"brinebell/collector"
	"brinebell/dashboards/access"
	"brinebell/dashboards/web"
	"brinebell/detect"
	"brinebell/detect/books"
)

// pageOptions say what the pages are made of. The present is that of the
// collector's clock, which a demonstration lets run faster.
func (s *service) pageOptions(o serviceOptions) web.Options {
	clock := o.collector.Clock
	if clock == nil {
		clock = time.Now
	}
	w := web.Options{Source: s.source, Logger: o.collector.Logger, Title: o.title, Clock: clock, SetUp: true,
		Refused: s.source.refused, Replayer: newReplayer(s.collector), Cases: pageCases{s.collector.Cases(), o.actsAs}, Told: web.Told{Away: s.source.away}, Searches: pageSearches{s.collector.State()}}
	if o.accounts != nil {
		w.Viewer, w.People = access.From, &webPeople{store: o.accounts.people}
	}
	return w
}

// refused lists what the collector could not use.
func (s *source) refused() []web.Refused {
	var out []web.Refused
	for _, q := range s.collector.Quarantine() {
		out = append(out, web.Refused{Topic: q.Topic, Reason: string(q.Reason), Detail: q.Detail, Payload: q.Payload, Count: q.Count, First: q.First, Last: q.Last})
	}
	return out
}

// source lets the pages see a collector.
type source struct {
	collector *collector.Collector

	mu       sync.Mutex // guards watchers
	watchers map[chan struct{}]struct{}
}

var _ web.Source = (*source)(nil)

func newSource() *source { return &source{watchers: map[chan struct{}]struct{}{}} }

func (s *source) Homes() []detect.Home { return s.collector.Homes() }

func (s *source) Alerts(ctx context.Context, home string) ([]detect.Alert, error) {
	stored, err := s.collector.Alerts(ctx, home)
	if err != nil {
		return nil, err
	}
	alerts := make([]detect.Alert, 0, len(stored))
	for _, a := range stored {
		if a.Withdrawn.IsZero() {
			alerts = append(alerts, a.Alert)
		}
	}
	return alerts, nil
}

func (s *source) Points(ctx context.Context, home string, signal detect.Signal, from, to time.Time, most int) ([]web.Point, error) {
	buckets, err := s.collector.Points(ctx, home, signal, from, to, most)
	if err != nil {
		return nil, err
	}
	step := max(to.Sub(from)/time.Duration(max(most, 1)), 1)
	points := make([]web.Point, 0, len(buckets))
	for _, b := range buckets {
		span := b.Start.Sub(from) / step * step // buckets start at their first reading, spans at equal distances
		points = append(points, web.Point{Time: from.Add(span), Min: b.Min, Mean: b.Mean, Max: b.Max})
	}
	return points, nil
}

func (s *source) Regenerations(ctx context.Context, home string, from, to time.Time) ([]web.Regeneration, error) {
	stored, err := s.collector.Regenerations(ctx, home, from, to)
	if err != nil {
		return nil, err
	}
	out := make([]web.Regeneration, len(stored))
	for i, r := range stored {
		out[i] = web.Regeneration{Record: r.Record, Entry: r.Entry}
	}
	return out, nil
}

func (s *source) Books(_ context.Context, home string) (books.Books, bool) {
	return s.collector.Books(home)
}

func (s *source) Now(home string) time.Time {
	latest, err := s.collector.Latest(context.Background(), home)
	if err != nil {
		return time.Time{} // a home that has said nothing; the page shows why
	}
	var now time.Time
	for _, p := range latest {
		if p.Time.After(now) {
			now = p.Time
		}
	}
	return now
}

// Changes gives a value after alerts have changed, several changes as one.
func (s *source) Changes(ctx context.Context) <-chan struct{} {
	c := make(chan struct{}, 1)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.watchers[c] = struct{}{}
	context.AfterFunc(ctx, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.watchers, c)
	})
	return c
}

func (s *source) changed() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for c := range s.watchers {
		select {
		case c <- struct{}{}:
		default: // it has yet to take the last one
		}
	}
}
