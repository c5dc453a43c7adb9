package seriestest

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// noon is when the tests' readings begin.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// Run runs every check against new stores made by open.
func Run(t *testing.T, open func(t *testing.T) series.Store) {
	for name, check := range map[string]func(*testing.T, series.Store){
		"what is appended is read":      appendedIsRead,
		"spans are half open":           spansAreHalfOpen,
		"times are cut to milliseconds": timesAreCut,
		"twice is once":                 twiceIsOnce,
		"order does not matter":         orderDoesNotMatter,
		"homes and signals are listed":  listed,
		"oldest":                        oldest,
		"latest":                        latest,
		"concurrent use":                concurrentUse,
		"homes are read in pages":       pages,
		"numbers are kept exactly":      exact,
		"what is no number is refused":  notANumber,
		"names stay apart":              names,
		"an empty batch is nothing":     emptyBatch,
		"a home is erased":              erased,
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			t.Cleanup(func() {
				if err := s.Close(); err != nil {
					t.Error(err)
				}
			})
			check(t, s)
		})
	}
}

func reading(home string, signal detect.Signal, at time.Time, v float64) detect.Reading {
	return detect.Reading{Home: home, Signal: signal, Time: at, Value: v}
}

func add(t *testing.T, s series.Store, readings ...detect.Reading) {
	t.Helper()
	rejected, err := s.Append(context.Background(), readings)
	if err != nil || len(rejected) > 0 {
		t.Fatalf("append: %v, rejected %v", err, rejected)
	}
}

func read(t *testing.T, s series.Store, home string, signal detect.Signal, from, to time.Time) []series.Point {
	t.Helper()
	points, err := s.Read(context.Background(), home, signal, from, to)
	if err != nil {
		t.Fatal(err)
	}
	return points
}

func expect(t *testing.T, got []series.Point, want ...series.Point) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Fatalf("points %v, want %v", got, want)
	}
}

func appendedIsRead(t *testing.T, s series.Store) {
	add(t, s,
		reading("a", detect.InletFlow, noon, 1),
		reading("a", detect.BrineLevel, noon, 2),
		reading("b", detect.InletFlow, noon, 3),
		reading("a", detect.InletFlow, noon.Add(time.Second), -4.5))
	expect(t, read(t, s, "a", detect.InletFlow, noon, noon.Add(time.Hour)), series.Point{Time: noon, Value: 1}, series.Point{Time: noon.Add(time.Second), Value: -4.5})
	expect(t, read(t, s, "a", detect.BrineLevel, noon, noon.Add(time.Hour)), series.Point{Time: noon, Value: 2})
	expect(t, read(t, s, "b", detect.InletFlow, noon, noon.Add(time.Hour)), series.Point{Time: noon, Value: 3})
	expect(t, read(t, s, "b", detect.BrineLevel, noon, noon.Add(time.Hour)))
	expect(t, read(t, s, "nobody", detect.BrineLevel, noon, noon.Add(time.Hour)))
}

func spansAreHalfOpen(t *testing.T, s series.Store) {
	add(t, s, reading("a", detect.InletFlow, noon, 1), reading("a", detect.InletFlow, noon.Add(time.Millisecond), 2))
	first, second := series.Point{Time: noon, Value: 1}, series.Point{Time: noon.Add(time.Millisecond), Value: 2}
	expect(t, read(t, s, "a", detect.InletFlow, noon, noon))
	expect(t, read(t, s, "a", detect.InletFlow, noon, noon.Add(time.Millisecond)), first)
	expect(t, read(t, s, "a", detect.InletFlow, noon.Add(time.Nanosecond), noon.Add(time.Hour)), second)
	expect(t, read(t, s, "a", detect.InletFlow, time.Time{}, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)), first, second)
	expect(t, read(t, s, "a", detect.InletFlow, noon.Add(time.Hour), noon))
}

func timesAreCut(t *testing.T, s series.Store) {
	add(t, s, reading("a", detect.InletFlow, noon.Add(999_999*time.Nanosecond), 1))
	expect(t, read(t, s, "a", detect.InletFlow, noon, noon.Add(time.Second)), series.Point{Time: noon, Value: 1})
}

func twiceIsOnce(t *testing.T, s series.Store) {
	batch := []detect.Reading{}
	for i := range 50 {
		batch = append(batch, reading("a", detect.InletVolume, noon.Add(time.Duration(i)*time.Minute), float64(i)))
	}
	add(t, s, append(batch, batch...)...) // within a batch
	add(t, s, batch...)                   // again, all behind the newest but one
	add(t, s, batch[10:20]...)
	got := read(t, s, "a", detect.InletVolume, noon, noon.Add(time.Hour))
	if len(got) != len(batch) {
		t.Fatalf("%d points, want %d", len(got), len(batch))
	}
	for i, p := range got {
		if p.Value != float64(i) {
			t.Errorf("point %d is %v", i, p)
		}
	}
	// Another value for a stored millisecond must not make two points.
	if _, err := s.Append(context.Background(), []detect.Reading{reading("a", detect.InletVolume, noon.Add(49*time.Minute), 7)}); err != nil {
		t.Fatal(err)
	}
	if got := read(t, s, "a", detect.InletVolume, noon.Add(49*time.Minute), noon.Add(time.Hour)); len(got) != 1 {
		t.Errorf("%v, want one point", got)
	}
}

func orderDoesNotMatter(t *testing.T, s series.Store) {
	var batch []detect.Reading
	for i := range 2000 {
		batch = append(batch, reading("a", detect.InletVolume, noon.Add(time.Duration(i)*time.Minute), float64(i)))
	}
	random := rand.New(rand.NewPCG(1, 2))
	random.Shuffle(len(batch), func(i, j int) { batch[i], batch[j] = batch[j], batch[i] })
	for part := range slices.Chunk(batch, 100) {
		add(t, s, part...)
	}
	got := read(t, s, "a", detect.InletVolume, noon, noon.Add(48*time.Hour))
	if len(got) != len(batch) {
		t.Fatalf("%d points, want %d", len(got), len(batch))
	}
	for i, p := range got {
		if p.Value != float64(i) || !p.Time.Equal(noon.Add(time.Duration(i)*time.Minute)) {
			t.Fatalf("point %d is %v", i, p)
		}
	}
}

func listed(t *testing.T, s series.Store) {
	add(t, s, reading("b", detect.Battery, noon, 1), reading("a", detect.FloorWet, noon, 1), reading("a", detect.InletFlow, noon, 1))
	homes, err := s.Homes(context.Background())
	if err != nil || !slices.Equal(homes, []string{"a", "b"}) {
		t.Errorf("homes %v %v", homes, err)
	}
	signals, err := s.Signals(context.Background(), "a")
	if err != nil || !slices.Equal(signals, []detect.Signal{detect.InletFlow, detect.FloorWet}) {
		t.Errorf("signals %v %v", signals, err)
	}
	if signals, err := s.Signals(context.Background(), "nobody"); err != nil || len(signals) != 0 {
		t.Errorf("signals of nobody %v %v", signals, err)
	}
}

func oldest(t *testing.T, s series.Store) {
	if at, ok, err := s.Oldest(context.Background()); ok || err != nil {
		t.Errorf("oldest %v %v %v of nothing", at, ok, err)
	}
	add(t, s, reading("a", detect.InletFlow, noon, 1))
	add(t, s, reading("b", detect.InletFlow, noon.AddDate(0, 0, -20), 1)) // late
	if at, ok, err := s.Oldest(context.Background()); !ok || err != nil || at.After(noon.AddDate(0, 0, -20)) || at.Before(noon.AddDate(0, -3, 0)) {
		t.Errorf("oldest %v %v %v, want not long before the late reading", at, ok, err)
	}
}

func latest(t *testing.T, s series.Store) {
	ctx := context.Background()
	check := func(want float64, found bool) {
		t.Helper()
		p, ok, err := s.Latest(ctx, "a", detect.InletFlow)
		if err != nil || ok != found || p.Value != want {
			t.Fatalf("latest %v %v %v, want %v %v", p, ok, err, want, found)
		}
	}
	check(0, false)
	add(t, s, reading("a", detect.InletFlow, noon, 1))
	check(1, true)
	add(t, s, reading("a", detect.InletFlow, noon.Add(time.Hour), 2), reading("a", detect.InletFlow, noon.Add(time.Minute), 3))
	check(2, true)
	add(t, s, reading("b", detect.InletFlow, noon.Add(20*24*time.Hour), 4)) // long silence since
	check(2, true)
}

func concurrentUse(t *testing.T, s series.Store) {
	var wait sync.WaitGroup
	for w := range 4 {
		wait.Go(func() {
			home := fmt.Sprintf("home-%d", w)
			for i := range 50 {
				if _, err := s.Append(context.Background(), []detect.Reading{reading(home, detect.InletFlow, noon.Add(time.Duration(i)*time.Second), 1)}); err != nil {
					t.Error(err)
				}
				if _, err := s.Read(context.Background(), "home-0", detect.InletFlow, noon, noon.Add(time.Hour)); err != nil {
					t.Error(err)
				}
				if _, _, err := s.Latest(context.Background(), home, detect.InletFlow); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	for w := range 4 {
		if got := read(t, s, fmt.Sprintf("home-%d", w), detect.InletFlow, noon, noon.Add(time.Hour)); len(got) != 50 {
			t.Errorf("home %d has %d points, want 50", w, len(got))
		}
	}
}

func pages(t *testing.T, s series.Store) {
	var batch []detect.Reading
	for _, day := range []int{0, 0, 1, 2, 9, 17} { // with silence between
		for i := range 3 {
			at := noon.AddDate(0, 0, day).Add(time.Duration(i) * 7 * time.Hour)
			batch = append(batch, reading("a", detect.InletFlow, at, 1), reading("a", detect.BrineLevel, at, 2))
		}
	}
	add(t, s, batch...)
	for _, from := range []time.Time{noon, {}, noon.Add(3 * time.Hour), noon.AddDate(0, 0, -30), noon.AddDate(0, 0, 30)} {
		want, err := series.ReadHome(context.Background(), s, "a", from, noon.AddDate(1, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		var got []detect.Reading
		if err := series.EachHome(context.Background(), s, "a", from, func(page []detect.Reading) error {
			got = append(got, page...)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, want) {
			t.Errorf("from %v: %d readings in pages, want %d", from, len(got), len(want))
		}
	}
}
