package series

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/tsdb/chunkenc"

	"brinebell/detect"
)

// Read gives the points of from <= time < to in order of time.
func (s *TSDB) Read(ctx context.Context, home string, signal detect.Signal, from, to time.Time) ([]Point, error) {
	first, end := ceilMilli(from), ceilMilli(to)
	if first >= end {
		return nil, nil
	}
	q, err := s.db.Querier(first, end-1)
	if err != nil {
		return nil, fmt.Errorf("series store: %w", err)
	}
	defer q.Close()
	set := q.Select(ctx, false, nil,
		labels.MustNewMatcher(labels.MatchEqual, nameLabel, signal.String()),
		labels.MustNewMatcher(labels.MatchEqual, homeLabel, home))
	var out gatherer
	var it chunkenc.Iterator
	for set.Next() {
		it = set.At().Iterator(it)
		for it.Next() == chunkenc.ValFloat {
			at, v := it.At()
			out.add(Point{time.UnixMilli(at).UTC(), v})
		}
		if err := it.Err(); err != nil {
			return nil, fmt.Errorf("series store: %w", err)
		}
	}
	if err := set.Err(); err != nil {
		return nil, fmt.Errorf("series store: %w", err)
	}
	return out.all(), nil
}

// gatherer gathers points of which it is not known how many they will be. Full
// slices are kept as they are and joined once: letting one grow would copy a
// week's points five times.
type gatherer struct {
	full    [][]Point
	current []Point
}

// fullAt is when a slice is full: some hours of a signal.
const fullAt = 4096

func (g *gatherer) add(p Point) {
	if len(g.current) == fullAt {
		g.full = append(g.full, g.current)
		g.current = make([]Point, 0, fullAt)
	}
	g.current = append(g.current, p)
}

func (g *gatherer) all() []Point {
	if len(g.full) == 0 {
		return g.current
	}
	return slices.Concat(append(g.full, g.current)...)
}

// ceilMilli is the first whole millisecond at or after t.
func ceilMilli(t time.Time) int64 {
	ms := t.UnixMilli()
	if t.Nanosecond()%1e6 != 0 {
		ms++
	}
	return min(max(ms, -everything), everything)
}

// Latest is the newest point. It is looked up once and then kept.
func (s *TSDB) Latest(ctx context.Context, home string, signal detect.Signal) (p Point, ok bool, err error) {
	e := s.entry(key{home, signal})
	s.mu.RLock()
	p = e.newest
	s.mu.RUnlock()
	if !p.Time.IsZero() {
		return p, true, nil
	}
	s.append.Lock() // so that nothing newer comes between looking up and keeping
	defer s.append.Unlock()
	if p, ok, err = s.lookupLatest(ctx, home, signal); err != nil || !ok {
		return p, false, err
	}
	s.mu.Lock()
	e.newest = p
	s.mu.Unlock()
	return p, true, nil
}

// lookupLatest reads ever longer spans back from the store's newest time.
func (s *TSDB) lookupLatest(ctx context.Context, home string, signal detect.Signal) (p Point, ok bool, err error) {
	oldest, newest, ok := s.bounds()
	for span := pageLength; ok; span = min(span*8, maxJump*128) {
		from := newest.Add(-span)
		points, err := s.Read(ctx, home, signal, from, newest.Add(time.Millisecond))
		if err != nil {
			return p, false, err
		}
		if len(points) > 0 {
			return points[len(points)-1], true, nil
		}
		if from.Before(oldest) {
			break
		}
	}
	return p, false, nil
}

// Oldest is a time before which no home has points.
func (s *TSDB) Oldest(context.Context) (t time.Time, ok bool, err error) {
	t, _, ok = s.bounds()
	return t.UTC(), ok, nil
}

// bounds are the oldest and newest time that any point may have.
func (s *TSDB) bounds() (oldest, newest time.Time, ok bool) {
	head := s.db.Head()
	lo, hi := min(head.MinTime(), head.MinOOOTime()), max(head.MaxTime(), head.MaxOOOTime())
	for _, b := range s.db.Blocks() {
		lo, hi = min(lo, b.MinTime()), max(hi, b.MaxTime())
	}
	return time.UnixMilli(lo), time.UnixMilli(hi), lo <= hi && hi > -everything
}

// Signals are the signals that a home has any points of, in order.
func (s *TSDB) Signals(ctx context.Context, home string) ([]detect.Signal, error) {
	names, err := s.values(ctx, nameLabel, labels.MustNewMatcher(labels.MatchEqual, homeLabel, home))
	if err != nil {
		return nil, err
	}
	var out []detect.Signal
	for _, name := range names {
		if signal, err := detect.ParseSignal(name); err == nil {
			out = append(out, signal)
		}
	}
	slices.Sort(out)
	return out, nil
}

// Homes are the ids of all homes that have points, sorted.
func (s *TSDB) Homes(ctx context.Context) ([]string, error) {
	return s.values(ctx, homeLabel)
}

// values are the values of a label, copied: the library's own end with the
// querier.
func (s *TSDB) values(ctx context.Context, label string, matchers ...*labels.Matcher) (out []string, err error) {
	q, err := s.db.Querier(-everything, everything)
	if err != nil {
		return nil, fmt.Errorf("series store: %w", err)
	}
	defer func() { err = errors.Join(err, q.Close()) }()
	values, _, err := q.LabelValues(ctx, label, nil, matchers...)
	if err != nil {
		return nil, fmt.Errorf("series store: %w", err)
	}
	for _, v := range values {
		out = append(out, string([]byte(v)))
	}
	return out, nil
}
