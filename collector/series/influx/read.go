package influx

import (
	"context"
	"slices"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"brinebell/collector/series"
	"brinebell/detect"
)

// Read gives the points of from <= time < to in order of time.
func (s *Store) Read(ctx context.Context, home string, signal detect.Signal, from, to time.Time) ([]series.Point, error) {
	flux, ok := s.span(from, to)
	if !ok {
		return nil, nil
	}
	var out []series.Point
	err := s.ask(ctx, flux+where(home, signal)+` |> keep(columns: ["_time", "_value"])`, func(r *query.FluxRecord) error {
		if p, ok := point(r); ok && within(p.Time, from, to) {
			out = append(out, p)
		}
		return nil
	})
	return inOrder(out), err
}

// within checks what the server was asked for: InfluxDB 1.8 also gives the first
// point after a span, while it has yet to write that out from its memory.
func within(t, from, to time.Time) bool { return !t.Before(from) && t.Before(to) }

// inOrder sorts points and keeps one of each millisecond. The server gives them
// so already, unless somebody else has written to the same measurement.
func inOrder(points []series.Point) []series.Point {
	slices.SortStableFunc(points, func(a, b series.Point) int { return a.Time.Compare(b.Time) })
	return slices.CompactFunc(points, func(a, b series.Point) bool { return a.Time.Equal(b.Time) })
}

// ReadHome reads all signals of a home with one query; see series.ReadHome.
func (s *Store) ReadHome(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error) {
	flux, ok := s.span(from, to)
	if !ok {
		return nil, nil
	}
	var out []detect.Reading
	flux += ` |> filter(fn: (r) => r.home == ` + quote(home) + ` and r._field == "value") |> keep(columns: ["_time", "_value", "_measurement"])`
	err := s.ask(ctx, flux, func(r *query.FluxRecord) error {
		signal, err := detect.ParseSignal(r.Measurement())
		if p, ok := point(r); ok && err == nil && within(p.Time, from, to) {
			out = append(out, detect.Reading{Home: home, Signal: signal, Time: p.Time, Value: p.Value})
		}
		return nil
	})
	series.SortReadings(out)
	return slices.CompactFunc(out, func(a, b detect.Reading) bool { return a.Time.Equal(b.Time) && a.Signal == b.Signal }), err
}

// Signals are the signals that a home has any points of, in order.
func (s *Store) Signals(ctx context.Context, home string) ([]detect.Signal, error) {
	names, err := s.values(ctx, "_measurement", ` |> filter(fn: (r) => r.home == `+quote(home)+`)`)
	var out []detect.Signal
	for _, name := range names {
		if signal, err := detect.ParseSignal(name); err == nil {
			out = append(out, signal)
		}
	}
	slices.Sort(out)
	return out, err
}

// Homes are the ids of all homes that have points, sorted.
func (s *Store) Homes(ctx context.Context) ([]string, error) {
	names, err := s.values(ctx, "home", "")
	names = slices.DeleteFunc(names, func(n string) bool { return n == "" })
	slices.Sort(names)
	return slices.Compact(names), err
}

// values are a tag's values. The server knows this form of query and answers it
// from its index.
func (s *Store) values(ctx context.Context, tag, filter string) (out []string, err error) {
	flux, _ := s.span(beginning, end)
	flux += filter + ` |> keep(columns: [` + quote(tag) + `]) |> group() |> distinct(column: ` + quote(tag) + `)`
	err = s.ask(ctx, flux, func(r *query.FluxRecord) error {
		if v, ok := r.Value().(string); ok {
			out = append(out, v)
		}
		return nil
	})
	return out, err
}
