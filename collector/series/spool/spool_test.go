package spool

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"brinebell/collector/series"
	"brinebell/collector/series/seriestest"
	"brinebell/detect"
)

// running is a spool that hands on while it is used.
type running struct {
	*Spool
	cancel context.CancelFunc
	ended  chan error
}

func run(s *Spool) *running {
	ctx, cancel := context.WithCancel(context.Background())
	r := &running{s, cancel, make(chan error, 1)}
	go func() { r.ended <- s.Run(ctx) }()
	return r
}

func (r *running) Close() error {
	r.cancel()
	return errors.Join(<-r.ended, r.Spool.Close())
}

// TestConformance runs the suite of all stores on a spool that hands nothing on,
// where everything is read from its files, and on one that hands on meanwhile.
func TestConformance(t *testing.T) {
	make := func(t *testing.T) *Spool {
		behind, err := series.Open(series.Options{Dir: t.TempDir(), NoSync: true})
		if err != nil {
			t.Fatal(err)
		}
		return open(t, Options{Dir: t.TempDir(), Store: behind, NoSync: true})
	}
	t.Run("all waits", func(t *testing.T) { seriestest.Run(t, func(t *testing.T) series.Store { return make(t) }) })
	t.Run("handed on", func(t *testing.T) { seriestest.Run(t, func(t *testing.T) series.Store { return run(make(t)) }) })
}

// TestOutage has the store down for twenty attempts while readings come: all
// must arrive, once and in order, and the attempts must become rarer.
func TestOutage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &fakeStore{down: 20}
		s := run(open(t, Options{Dir: t.TempDir(), Store: store, Batch: 10, NoSync: true}))
		var want []detect.Reading
		for i := range 200 {
			batch := minutes("a", i*3, 3)
			want = append(want, batch...)
			add(t, s, batch)
			time.Sleep(time.Second)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		if got := store.all(); !slices.Equal(got, want) {
			t.Errorf("%d readings arrived, want %d in order", len(got), len(want))
		}
		if gap := store.tries[19].Sub(store.tries[18]); gap != maxPause {
			t.Errorf("the twentieth attempt came %v after the one before, want %v", gap, maxPause)
		}
		if err := s.Close(); err != nil || !store.closed {
			t.Errorf("close: %v, store closed %v", err, store.closed)
		}
	})
}

// TestReadsSeeWhatWaits: also while readings move from the spool to the store.
func TestReadsSeeWhatWaits(t *testing.T) {
	store := &fakeStore{}
	s := open(t, Options{Dir: t.TempDir(), Store: store})
	add(t, s, minutes("a", 0, 10))
	drain(t, s)
	store.set(func() { store.down = -1 })
	add(t, s, minutes("a", 8, 12))
	ctx := context.Background()
	if _, err := s.Read(ctx, "a", detect.InletVolume, noon, noon.Add(time.Hour)); !errors.Is(err, series.ErrUnavailable) {
		t.Errorf("%v, want unavailable rather than a part", err)
	}
	if p, ok, err := s.Latest(ctx, "a", detect.InletVolume); err != nil || !ok || p.Value != 19 {
		t.Errorf("latest %v %v %v, want what went through", p, ok, err)
	}
	store.set(func() { store.down = 0 })
	points, err := s.Read(ctx, "a", detect.InletVolume, noon, noon.Add(time.Hour))
	if err != nil || len(points) != 20 {
		t.Errorf("%d points %v, want 20", len(points), err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestRefusedIsSetAside: the rest goes on, and the file says why.
func TestRefusedIsSetAside(t *testing.T) {
	registry := prometheus.NewRegistry()
	store := &fakeStore{refuse: func(r detect.Reading) error {
		if r.Value == 4 || r.Value == 25 {
			return errors.Join(series.ErrRefused, errors.New("field type conflict"))
		}
		return nil
	}}
	dir := t.TempDir()
	s := open(t, Options{Dir: dir, Store: store, Batch: 10, Registerer: registry})
	for i := range 4 {
		add(t, s, minutes("a", i*10, 10))
	}
	drain(t, s)
	if n := len(store.all()); n != 38 {
		t.Errorf("%d stored, want 38", n)
	}
	text, err := os.ReadFile(filepath.Join(dir, RefusedFile))
	if err != nil || strings.Count(string(text), "field type conflict") != 2 || !strings.Contains(string(text), "2026-03-01T12:25:00Z,a,inlet_volume,25,") {
		t.Errorf("%s %v", text, err)
	}
	if err := testutil.GatherAndCompare(registry, strings.NewReader(`
# HELP brinebell_spool_readings_total Readings that left the spool, by outcome: stored, or refused by the store and set aside.
# TYPE brinebell_spool_readings_total counter
brinebell_spool_readings_total{outcome="refused"} 2
brinebell_spool_readings_total{outcome="stored"} 38
`), "brinebell_spool_readings_total"); err != nil {
		t.Error(err)
	}
	problems, err := testutil.GatherAndLint(registry)
	if err != nil || len(problems) > 0 {
		t.Errorf("metrics: %v %v", problems, err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestFull fills the spool: it must say so, lose nothing, and take again.
func TestFull(t *testing.T) {
	store := &fakeStore{down: -1}
	dir := t.TempDir()
	s := open(t, Options{Dir: dir, Store: store, Limit: minLimit, NoSync: true})
	var want []detect.Reading
	for i := 0; ; i += 5000 {
		batch := minutes("a", i, 5000)
		_, err := s.Append(context.Background(), batch)
		if errors.Is(err, ErrFull) && errors.Is(err, series.ErrUnavailable) {
			break
		}
		if err != nil || i > 1e7 {
			t.Fatal(i, err)
		}
		want = append(want, batch...)
	}
	if state := s.State(); state.Bytes > state.Limit || state.Bytes < state.Limit*9/10 || int(state.Readings) != len(want) {
		t.Errorf("full at %+v with %d readings", state, len(want))
	}
	store.set(func() { store.down = 0 })
	drain(t, s)
	more := minutes("b", 0, 5000)
	add(t, s, more)
	drain(t, s)
	if got := store.all(); !slices.Equal(got, append(want, more...)) {
		t.Errorf("%d readings arrived, want %d in order", len(got), len(want)+len(more))
	}
	if files, _ := filepath.Glob(filepath.Join(dir, "*"+segmentSuffix)); len(files) > 2 {
		t.Errorf("%d segments are left of an empty spool", len(files))
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestRate holds a backlog to its pace.
func TestRate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &fakeStore{}
		s := open(t, Options{Dir: t.TempDir(), Store: store, Rate: 1000, Batch: 500, NoSync: true})
		for i := range 40 {
			add(t, s, minutes("a", i*500, 500))
		}
		r := run(s)
		time.Sleep(10*time.Second + time.Millisecond)
		synctest.Wait()
		if n := len(store.all()); n < 10_000 || n > 11_500 {
			t.Errorf("%d readings in ten seconds, want 10,000 and one second's more to begin with", n)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	})
}

// TestTogether has many appends at once share flushes, and lose nothing.
func TestTogether(t *testing.T) {
	flushes := 0
	opts := Options{Dir: t.TempDir(), Store: &fakeStore{}}
	opts.create = func(path string) (file, error) {
		f, err := createFile(path)
		return countedFile{f, &flushes}, err
	}
	s := open(t, opts)
	var wait sync.WaitGroup
	for w := range 50 {
		wait.Go(func() {
			for i := range 20 {
				if _, err := s.Append(context.Background(), minutes(string(rune('A'+w)), i, 1)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	if flushes >= 1000 {
		t.Errorf("%d flushes for 1000 appends of 50 at a time", flushes)
	}
	for w := range 50 {
		if got := waiting(t, s, string(rune('A'+w))); !slices.Equal(got, minutes(string(rune('A'+w)), 0, 20)) {
			t.Errorf("home %c has %d readings in the spool", 'A'+w, len(got))
		}
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

type countedFile struct {
	file
	flushes *int
}

func (f countedFile) Sync() error {
	*f.flushes++
	time.Sleep(100 * time.Microsecond) // as a disk: lets others join
	return f.file.Sync()
}

func TestOptions(t *testing.T) {
	for _, bad := range []Options{{}, {Dir: "x"}, {Dir: "x", Store: &fakeStore{}, Limit: 10}, {Dir: "x", Store: &fakeStore{}, Rate: -1}} {
		if _, err := Open(bad); err == nil {
			t.Errorf("%+v was opened", bad)
		}
	}
}

// TestOneProcess keeps a second one out.
func TestOneProcess(t *testing.T) {
	dir := t.TempDir()
	s := open(t, Options{Dir: dir, Store: &fakeStore{}})
	if _, err := Open(Options{Dir: dir, Store: &fakeStore{}}); err == nil || !strings.Contains(err.Error(), "another process") {
		t.Errorf("%v, want refused", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
