package spool

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/series"
	"brinebell/detect"
)

func TestMain(m *testing.M) {
	if childRole() {
		return
	}
	goleak.VerifyTestMain(m)
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// minutes are n readings of a home from the k-th minute on.
func minutes(home string, k, n int) (out []detect.Reading) {
	for i := range n {
		out = append(out, detect.Reading{Home: home, Signal: detect.InletVolume, Time: noon.Add(time.Duration(k+i) * time.Minute), Value: float64(k + i)})
	}
	return out
}

var errDown = fmt.Errorf("%w: connection refused", series.ErrUnavailable)

// fakeStore is a store in memory that can be down or refuse readings.
type fakeStore struct {
	series.Store // for the methods that tests do not reach

	mu     sync.Mutex // guards all below
	down   int        // how many more writes fail; negative for ever
	refuse func(detect.Reading) error
	stored []detect.Reading
	tries  []time.Time
	closed bool
}

func (s *fakeStore) Append(_ context.Context, readings []detect.Reading) (refused []series.Rejected, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tries = append(s.tries, time.Now())
	if s.down != 0 {
		s.down--
		return nil, errDown
	}
	for i, r := range readings {
		if s.refuse != nil && s.refuse(r) != nil {
			refused = append(refused, series.Rejected{Index: i, Err: s.refuse(r)})
			continue
		}
		s.stored = append(s.stored, r)
	}
	return refused, nil
}

func (s *fakeStore) Read(_ context.Context, home string, signal detect.Signal, from, to time.Time) (out []series.Point, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.down != 0 {
		return nil, errDown
	}
	for _, r := range s.stored {
		if r.Home == home && r.Signal == signal && !r.Time.Before(from) && r.Time.Before(to) {
			out = append(out, series.Point{Time: r.Time, Value: r.Value})
		}
	}
	return out, nil
}

func (s *fakeStore) Signals(context.Context, string) ([]detect.Signal, error) { return nil, nil }

func (s *fakeStore) Latest(context.Context, string, detect.Signal) (p series.Point, ok bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.down != 0 {
		return p, false, errDown
	}
	return p, false, nil
}

func (s *fakeStore) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

func (s *fakeStore) set(do func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	do()
}

func (s *fakeStore) all() []detect.Reading {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.stored)
}

func open(t testing.TB, opts Options) *Spool {
	t.Helper()
	s, err := Open(opts)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func add(t testing.TB, s series.Store, readings []detect.Reading) {
	t.Helper()
	rejected, err := s.Append(context.Background(), readings)
	if err != nil || len(rejected) > 0 {
		t.Fatalf("append: %v, rejected %v", err, rejected)
	}
}

// waiting are all readings that wait, in the order in which they came.
func waiting(t testing.TB, s *Spool, home string) (out []detect.Reading) {
	t.Helper()
	err := s.journal.waitingOf(home, time.Time{}, noon.AddDate(100, 0, 0), func(r detect.Reading) { out = append(out, r) })
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// drain runs the spool until nothing waits.
func drain(t testing.TB, s *Spool) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	for s.State().Readings > 0 {
		select {
		case err := <-ended:
			t.Fatal(errors.Join(errors.New("the spool ended"), err))
		case <-time.After(time.Millisecond):
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}
