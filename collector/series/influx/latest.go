package influx

import (
	"context"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"brinebell/collector/series"
	"brinebell/detect"
)

const (
	// lately is what is asked of all homes at once, so that a start with many
	// homes does not ask for each of them.
	lately = 5 * time.Minute
	// firstLook is how far back a silent series is looked for at first.
	firstLook = 24 * time.Hour
	// oldestFor is how long the beginning of the data is taken to be known.
	oldestFor = 24 * time.Hour
)

// oldestSteps are how the beginning of the data is looked for, ever finer, the
// longest years. Spans without data cost the server next to nothing.
var oldestSteps = []time.Duration{64 * year, 8 * year, year, year / 6}

const year = 365 * 24 * time.Hour

// Latest is the newest point. It is asked for once and then kept up to date by
// what is appended here.
func (s *Store) Latest(ctx context.Context, home string, signal detect.Signal) (p series.Point, ok bool, err error) {
	if err := s.askLately(ctx); err != nil {
		return p, false, err
	}
	s.mu.Lock()
	p, ok = s.newest[key{home, signal}]
	s.mu.Unlock()
	if ok {
		return p, true, nil
	}
	if p, ok, err = s.lookBack(ctx, home, signal); err == nil && ok {
		s.keep(home, signal, p)
	}
	return p, ok, err
}

// keep remembers a point as the newest, unless a newer one was appended since.
func (s *Store) keep(home string, signal detect.Signal, p series.Point) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if known, ok := s.newest[key{home, signal}]; !ok || known.Time.Before(p.Time) {
		s.newest[key{home, signal}] = p
	}
}

// askLately fills newest, once.
func (s *Store) askLately(ctx context.Context) error {
	s.mu.Lock()
	asked := s.asked
	s.mu.Unlock()
	if asked {
		return nil
	}
	flux, _ := s.span(s.opts.Clock().Add(-lately), end)
	flux += ` |> filter(fn: (r) => r._field == "value") |> last() |> keep(columns: ["_time", "_value", "_measurement", "home"])`
	err := s.ask(ctx, flux, func(r *query.FluxRecord) error {
		signal, err := detect.ParseSignal(r.Measurement())
		home, named := r.ValueByKey("home").(string)
		if p, ok := point(r); ok && named && err == nil {
			s.keep(home, signal, p)
		}
		return nil
	})
	if err == nil {
		s.mu.Lock()
		s.asked = true
		s.mu.Unlock()
	}
	return err
}

// lookBack asks for ever longer spans, each before the last.
func (s *Store) lookBack(ctx context.Context, home string, signal detect.Signal) (p series.Point, ok bool, err error) {
	oldest, any, err := s.Oldest(ctx)
	if err != nil || !any {
		return p, false, err
	}
	to := end
	from := s.opts.Clock()
	for look := firstLook; !to.Before(oldest); look *= 4 {
		from = from.Add(-look)
		flux, spans := s.span(from, to)
		if !spans {
			break
		}
		err := s.ask(ctx, flux+where(home, signal)+` |> last() |> keep(columns: ["_time", "_value"])`, func(r *query.FluxRecord) error {
			if q, is := point(r); is && (!ok || q.Time.After(p.Time)) {
				p, ok = q, true
			}
			return nil
		})
		if err != nil || ok {
			return p, ok, err
		}
		to = from
	}
	return p, false, nil
}

// Oldest is a time before which no home has points, to within two months. It is
// looked for once a day, as the server forgets.
func (s *Store) Oldest(ctx context.Context) (t time.Time, ok bool, err error) {
	now := s.opts.Clock()
	s.mu.Lock()
	t = s.oldest
	known := !t.IsZero() && now.Sub(s.oldestAt) < oldestFor
	s.mu.Unlock()
	if known {
		return t, true, nil
	}
	if t, ok, err = s.lookForOldest(ctx); err != nil || !ok {
		return t, ok, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.oldest, s.oldestAt = t, now
	return t, true, nil
}

// lookForOldest narrows the first span with points down from all of time.
func (s *Store) lookForOldest(ctx context.Context) (from time.Time, ok bool, err error) {
	from, to := beginning, end
	for _, step := range oldestSteps {
		span := to
		for found := false; !found; from = from.Add(step) {
			if !from.Before(span) {
				return from, false, nil
			}
			if found, err = s.any(ctx, from, from.Add(step)); err != nil {
				return from, false, err
			}
			if found {
				to = from.Add(step)
				break
			}
		}
	}
	return from, true, nil
}

// any says whether there are points of from <= time < to.
func (s *Store) any(ctx context.Context, from, to time.Time) (found bool, err error) {
	flux, ok := s.span(from, to)
	if !ok {
		return false, nil
	}
	flux += ` |> filter(fn: (r) => r._field == "value") |> limit(n: 1) |> keep(columns: ["_time"]) |> group() |> min(column: "_time")`
	err = s.ask(ctx, flux, func(r *query.FluxRecord) error {
		at, ok := r.ValueByKey("_time").(time.Time)
		found = found || ok && within(at, from, to)
		return nil
	})
	return found, err
}
