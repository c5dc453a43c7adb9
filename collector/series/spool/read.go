package spool

import (
	"cmp"
	"context"
	"errors"
	"os"
	"slices"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// part is a stretch of a segment that waits.
type part struct {
	segment  *segment
	file     *os.File
	from, to int64
}

// parts opens what waits of the segments that may hold readings of a home in
// from <= time < to. They are opened with the lock held, so that one that is
// done with meanwhile can still be read.
func (j *journal) parts(home string, from, to time.Time) (open []part, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, s := range j.segments {
		p := part{segment: s, from: j.doneIn(s), to: s.size}
		if end, ok := j.erased[home]; ok && s.number <= end.segment {
			if s.number < end.segment {
				continue
			}
			p.from = max(p.from, end.offset)
		}
		if p.from >= p.to || !s.about.mayHold(home, from, to) {
			continue
		}
		if p.file, err = os.Open(s.path); err != nil {
			return nil, errors.Join(err, closeAll(open))
		}
		open = append(open, p)
	}
	return open, nil
}

// doneIn is up to where a segment was taken. Called with mu held.
func (j *journal) doneIn(s *segment) int64 {
	if s.number == j.done.segment {
		return j.done.offset
	}
	return 0
}

func closeAll(parts []part) error {
	var errs []error
	for _, p := range parts {
		errs = append(errs, p.file.Close())
	}
	return errors.Join(errs...)
}

// waiting hands the readings of a home in from <= time < to that wait to do, in
// the order in which they came.
func (j *journal) waitingOf(home string, from, to time.Time, do func(detect.Reading)) (err error) {
	parts, err := j.parts(home, from, to)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeAll(parts)) }()
	for _, p := range parts {
		if err := p.each(func(r detect.Reading) {
			if r.Home == home && !r.Time.Before(from) && r.Time.Before(to) {
				do(r)
			}
		}); err != nil {
			return err
		}
	}
	return nil
}

// each hands the readings of a part to do.
func (p part) each(do func(detect.Reading)) error {
	data := make([]byte, p.to-p.from)
	if _, err := p.file.ReadAt(data, p.from); err != nil {
		return err
	}
	for at := p.from; at < p.to; {
		if end, in := p.segment.gapAt(at); in {
			at = end
			continue
		}
		payload, length, err := frameAt(data[at-p.from:])
		if err != nil {
			return err
		}
		if _, err := decode(payload, do); err != nil {
			return err
		}
		at += int64(length)
	}
	return nil
}

// Read gives the points of from <= time < to in order of time.
func (s *Spool) Read(ctx context.Context, home string, signal detect.Signal, from, to time.Time) ([]series.Point, error) {
	var waiting []series.Point
	err := s.journal.waitingOf(home, from, to, func(r detect.Reading) {
		if r.Signal == signal {
			waiting = append(waiting, series.Point{Time: r.Time, Value: r.Value})
		}
	})
	if err != nil {
		return nil, err
	}
	stored, err := s.opts.Store.Read(ctx, home, signal, from, to)
	if err != nil || len(waiting) == 0 {
		return stored, err
	}
	return merge(stored, waiting, func(a, b series.Point) int { return a.Time.Compare(b.Time) }), nil
}

// ReadHome gives all readings of a home; see series.ReadHome.
func (s *Spool) ReadHome(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error) {
	var waiting []detect.Reading
	if err := s.journal.waitingOf(home, from, to, func(r detect.Reading) { waiting = append(waiting, r) }); err != nil {
		return nil, err
	}
	stored, err := series.ReadHome(ctx, s.opts.Store, home, from, to)
	if err != nil || len(waiting) == 0 {
		return stored, err
	}
	return merge(stored, waiting, func(a, b detect.Reading) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Signal, b.Signal))
	}), nil
}

// merge sorts what is stored and, after it, what came later, keeping the last of
// those that are the same to order.
func merge[T any](stored, waiting []T, order func(a, b T) int) []T {
	all := append(stored, waiting...)
	slices.SortStableFunc(all, order)
	kept := all[:0]
	for i, x := range all {
		if i+1 == len(all) || order(x, all[i+1]) != 0 {
			kept = append(kept, x)
		}
	}
	return kept
}

// Latest is the newest point. While the store cannot be asked it is the newest
// that went through here.
func (s *Spool) Latest(ctx context.Context, home string, signal detect.Signal) (p series.Point, ok bool, err error) {
	s.mu.Lock()
	passed, here := s.newest[key{home, signal}]
	s.mu.Unlock()
	p, ok, err = s.opts.Store.Latest(ctx, home, signal)
	switch {
	case here && (err == nil && (!ok || !p.Time.After(passed.Time)) || errors.Is(err, series.ErrUnavailable)):
		return passed, true, nil
	default:
		return p, ok, err
	}
}

// Oldest is a time before which no home has points.
func (s *Spool) Oldest(ctx context.Context) (t time.Time, ok bool, err error) {
	s.journal.mu.Lock()
	for _, segment := range s.journal.segments {
		if a := segment.about; a.readings > 0 && (!ok || a.earliest.Before(t)) {
			t, ok = a.earliest, true
		}
	}
	s.journal.mu.Unlock()
	stored, any, err := s.opts.Store.Oldest(ctx)
	if err == nil && any && (!ok || stored.Before(t)) {
		return stored, true, nil
	}
	return t, ok, err
}

// Signals are the signals that a home has any points of, in order.
func (s *Spool) Signals(ctx context.Context, home string) ([]detect.Signal, error) {
	signals, err := s.opts.Store.Signals(ctx, home)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	for signal := range detect.NumSignals {
		if _, here := s.newest[key{home, signal}]; here {
			signals = append(signals, signal)
		}
	}
	s.mu.Unlock()
	slices.Sort(signals)
	return slices.Compact(signals), nil
}

// Homes are the ids of all homes that have points, sorted.
func (s *Spool) Homes(ctx context.Context) ([]string, error) {
	homes, err := s.opts.Store.Homes(ctx)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	for k := range s.newest {
		homes = append(homes, k.home)
	}
	s.mu.Unlock()
	slices.Sort(homes)
	return slices.Compact(homes), nil
}

// Sums are those of the store behind, if it keeps any; see series.History. What
// waits is too young to be in them.
func (s *Spool) Sums(ctx context.Context, home string, signal detect.Signal, from, to time.Time, width time.Duration) ([]series.Sum, error) {
	if h, ok := s.opts.Store.(series.History); ok {
		return h.Sums(ctx, home, signal, from, to, width)
	}
	return nil, nil
}
