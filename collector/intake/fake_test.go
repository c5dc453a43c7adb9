package intake

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// fakeStore is a store in memory that can be told to refuse or to be slow.
type fakeStore struct {
	series.Store // for the methods that the intake does not use

	mu       sync.Mutex // guards all below
	refuse   int        // how many more batches fail
	reject   func(detect.Reading) error
	gate     chan struct{} // when set, Append waits for it
	appended [][]detect.Reading
}

var errRefused = errors.New("disk full")

func (s *fakeStore) Append(ctx context.Context, readings []detect.Reading) (rejected []series.Rejected, err error) {
	if s.gate != nil {
		<-s.gate
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.refuse > 0 {
		s.refuse--
		return nil, errRefused
	}
	for i, r := range readings {
		if s.reject != nil {
			if err := s.reject(r); err != nil {
				rejected = append(rejected, series.Rejected{Index: i, Err: err})
			}
		}
	}
	s.appended = append(s.appended, slices.Clone(readings))
	return rejected, nil
}

func (s *fakeStore) batches() [][]detect.Reading {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.appended)
}

// fakeJudge notes what it is given.
type fakeJudge struct {
	store  *fakeStore
	fail   error
	judged []detect.Reading
	early  int // readings that were not in the store yet
}

func (j *fakeJudge) Observe(_ context.Context, readings []detect.Reading) error {
	if j.fail != nil {
		return j.fail
	}
	for _, r := range readings {
		if !slices.ContainsFunc(j.store.batches(), func(b []detect.Reading) bool { return slices.Contains(b, r) }) {
			j.early++
		}
	}
	j.judged = append(j.judged, readings...)
	return nil
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
