package series

import (
	"context"
	"time"

	"brinebell/detect"
)

// History is a store that keeps sums for longer than readings.
type History interface {
	// Sums are those of a home's signal that begin in from <= start < to, in
	// order. width is how long the stretches are at least that are wanted: what
	// the store has of that length or, if it has none, the next shorter is given.
	Sums(ctx context.Context, home string, signal detect.Signal, from, to time.Time, width time.Duration) ([]Sum, error)
}

var _ History = (*TSDB)(nil)

// Sums are those of a home's signal; see History. They are of an hour, or of five
// minutes when less than an hour is wanted.
func (s *TSDB) Sums(ctx context.Context, home string, signal detect.Signal, from, to time.Time, width time.Duration) (sums []Sum, err error) {
	if s.history == nil {
		return nil, nil
	}
	mark := s.summedUp()
	if from.Before(mark) {
		l, err := s.history.level(width)
		if err != nil {
			return nil, err
		}
		points, err := l.store.Read(ctx, home, signal, from, earlier(to, mark))
		if err != nil {
			return nil, err
		}
		sums = sumsFrom(points, l.width)
		from = mark
	}
	points, err := s.Read(ctx, home, signal, from, to)
	return append(sums, sumsOf(points, lengthOf(width))...), err
}

// lengthOf is the length of sums given for a wanted one.
func lengthOf(width time.Duration) time.Duration {
	if width >= time.Hour {
		return time.Hour
	}
	return 5 * time.Minute
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
