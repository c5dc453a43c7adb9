package series

import (
	"cmp"
	"context"
	"slices"
	"time"

	"brinebell/detect"
)

// ReadHome gives all readings of a home of from <= time < to, in order of time
// and, at the same time, of signal.
func ReadHome(ctx context.Context, s Store, home string, from, to time.Time) ([]detect.Reading, error) {
	if h, ok := s.(HomeReader); ok {
		return h.ReadHome(ctx, home, from, to)
	}
	signals, err := s.Signals(ctx, home)
	if err != nil {
		return nil, err
	}
	var out []detect.Reading
	for _, signal := range signals {
		points, err := s.Read(ctx, home, signal, from, to)
		if err != nil {
			return nil, err
		}
		out = slices.Grow(out, len(points))
		for _, p := range points {
			out = append(out, detect.Reading{Home: home, Signal: signal, Time: p.Time, Value: p.Value})
		}
	}
	SortReadings(out)
	return out, nil
}

// SortReadings sorts the readings of a home by time and, at the same time, by
// signal.
func SortReadings(readings []detect.Reading) {
	slices.SortFunc(readings, func(a, b detect.Reading) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Signal, b.Signal))
	})
}

// newestOf is the time of a home's newest reading; ok is false when it has none.
func newestOf(ctx context.Context, s Store, home string) (newest time.Time, ok bool, err error) {
	signals, err := s.Signals(ctx, home)
	if err != nil {
		return newest, false, err
	}
	for _, signal := range signals {
		p, found, err := s.Latest(ctx, home, signal)
		if err != nil {
			return newest, false, err
		}
		if found && (!ok || p.Time.After(newest)) {
			newest, ok = p.Time, true
		}
	}
	return newest, ok, nil
}

// EachHome hands the readings of a home from a time on to do, in order, a day
// at a time, so that years fit in memory.
func EachHome(ctx context.Context, s Store, home string, from time.Time, do func([]detect.Reading) error) error {
	newest, ok, err := newestOf(ctx, s, home)
	if err != nil || !ok {
		return err
	}
	oldest, ok, err := s.Oldest(ctx)
	if err != nil || !ok {
		return err
	}
	if from.Before(oldest) {
		from = oldest
	}
	for page := from; !page.After(newest); {
		next := page.Add(pageLength)
		readings, err := ReadHome(ctx, s, home, page, next)
		if err != nil {
			return err
		}
		if len(readings) == 0 { // jump over silence
			if next, ok, err = firstAfter(ctx, s, home, next, newest); err != nil || !ok {
				return err
			}
		} else if err := do(readings); err != nil {
			return err
		}
		page = next
	}
	return nil
}

const (
	// pageLength is how much of a home EachHome reads at once.
	pageLength = 24 * time.Hour
	// maxJump bounds what it reads at once when it looks for the end of a
	// silence.
	maxJump = 32 * pageLength
)

// firstAfter is the time of the first reading at or after from.
func firstAfter(ctx context.Context, s Store, home string, from, newest time.Time) (first time.Time, ok bool, err error) {
	for step := pageLength; !from.After(newest); step = min(2*step, maxJump) {
		readings, err := ReadHome(ctx, s, home, from, from.Add(step))
		if err != nil {
			return first, false, err
		}
		if len(readings) > 0 {
			return readings[0].Time, true, nil
		}
		from = from.Add(step)
	}
	return first, false, nil
}
