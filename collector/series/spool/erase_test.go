package spool

import (
	"context"
	"slices"
	"testing"

	"brinebell/detect"
)

func (s *fakeStore) Erase(_ context.Context, home string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stored = slices.DeleteFunc(s.stored, func(r detect.Reading) bool { return r.Home == home })
	return nil
}

// TestEraseWhatWaits erases a home of which some is stored and some waits, in the
// same batches as another's, and goes on after a restart: only what came after
// the erasure may be there.
func TestEraseWhatWaits(t *testing.T) {
	store := &fakeStore{}
	opts := Options{Dir: t.TempDir(), Store: store, Batch: 1000}
	s := open(t, opts)
	both := func(k int) []detect.Reading { return append(minutes("a", k, 3), minutes("b", k, 3)...) }
	add(t, s, both(0))
	drain(t, s)
	add(t, s, both(3))
	add(t, s, both(6))
	if err := s.Erase(context.Background(), "a"); err != nil {
		t.Fatal(err)
	}
	add(t, s, both(9))
	if got := waiting(t, s, "a"); !slices.Equal(got, minutes("a", 9, 3)) {
		t.Errorf("of the erased home %v waits", got)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, opts)
	drain(t, s)
	want := append(minutes("b", 0, 9), both(9)...)
	if got := store.all(); !slices.Equal(got, want) {
		t.Errorf("stored %v, want %v", got, want)
	}
	if n := s.State(); n.Readings != 0 || n.Bytes != 0 {
		t.Errorf("left: %+v", n)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
