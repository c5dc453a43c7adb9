package seriestest

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// exact stores numbers that a careless way through text would change.
func exact(t *testing.T, s series.Store) {
	values := []float64{0, math.Copysign(0, -1), 0.1, 1.0 / 3, math.MaxFloat64, math.SmallestNonzeroFloat64, -123456789.987654321, 1 << 53, 1e21, 1e-7}
	var want []series.Point
	for i, v := range values {
		at := noon.Add(time.Duration(i) * time.Millisecond)
		add(t, s, reading("a", detect.InletVolume, at, v))
		want = append(want, series.Point{Time: at, Value: v})
	}
	expect(t, read(t, s, "a", detect.InletVolume, noon, noon.Add(time.Second)), want...)
}

// notANumber must not take the rest of its batch with it.
func notANumber(t *testing.T, s series.Store) {
	bad := []float64{math.NaN(), math.Inf(1), math.Inf(-1)}
	batch := []detect.Reading{reading("a", detect.InletFlow, noon, 1)}
	for i, v := range bad {
		batch = append(batch, reading("a", detect.InletFlow, noon.Add(time.Duration(i+1)*time.Second), v))
	}
	batch = append(batch, reading("a", detect.InletFlow, noon.Add(time.Minute), 2))
	rejected, err := s.Append(context.Background(), batch)
	if err != nil || len(rejected) != len(bad) {
		t.Fatalf("rejected %v %v, want %d", rejected, err, len(bad))
	}
	for i, r := range rejected {
		if r.Index != i+1 || !errors.Is(r.Err, series.ErrRefused) {
			t.Errorf("rejected %v, want the reading %d as refused", r, i+1)
		}
	}
	expect(t, read(t, s, "a", detect.InletFlow, noon, noon.Add(time.Hour)), series.Point{Time: noon, Value: 1}, series.Point{Time: noon.Add(time.Minute), Value: 2})
}

// names holds homes apart whose names mean something to a query or a protocol.
func names(t *testing.T, s series.Store) {
	homes := []string{"a", "a b", "a,b", "a=b", `a"b`, "a'b", "${a}", "a.*", "ä-ß", "#a", "a) or (true", "日本"}
	for i, home := range homes {
		add(t, s, reading(home, detect.InletFlow, noon, float64(i)))
	}
	for i, home := range homes {
		expect(t, read(t, s, home, detect.InletFlow, noon, noon.Add(time.Hour)), series.Point{Time: noon, Value: float64(i)})
		if p, ok, err := s.Latest(context.Background(), home, detect.InletFlow); err != nil || !ok || p.Value != float64(i) {
			t.Errorf("latest of %q: %v %v %v", home, p, ok, err)
		}
	}
	got, err := s.Homes(context.Background())
	slices.Sort(homes)
	if err != nil || !slices.Equal(got, homes) {
		t.Errorf("homes %q %v, want %q", got, err, homes)
	}
}

func emptyBatch(t *testing.T, s series.Store) {
	add(t, s)
	if homes, err := s.Homes(context.Background()); err != nil || len(homes) != 0 {
		t.Errorf("homes %v %v of nothing", homes, err)
	}
}

// erased erases one of two homes, where the store can.
func erased(t *testing.T, s series.Store) {
	e, ok := s.(interface {
		Erase(ctx context.Context, home string) error
	})
	if !ok {
		t.Skip("this store cannot erase")
	}
	for i := range 10 {
		at := noon.Add(time.Duration(i) * time.Minute)
		add(t, s, reading("a'b", detect.InletFlow, at, 1), reading("a", detect.InletFlow, at, 2), reading("a'b", detect.BrineLevel, at, 3))
	}
	if err := e.Erase(context.Background(), "a'b"); err != nil {
		t.Fatal(err)
	}
	for _, signal := range []detect.Signal{detect.InletFlow, detect.BrineLevel} {
		expect(t, read(t, s, "a'b", signal, noon, noon.Add(time.Hour)))
		if p, ok, err := s.Latest(context.Background(), "a'b", signal); ok || err != nil {
			t.Errorf("newest of an erased home: %v %v", p, err)
		}
	}
	if got := read(t, s, "a", detect.InletFlow, noon, noon.Add(time.Hour)); len(got) != 10 {
		t.Errorf("%d readings of the other home, want 10", len(got))
	}
	later := noon.Add(2 * time.Hour)
	add(t, s, reading("a'b", detect.InletFlow, later, 4)) // it may come back
	expect(t, read(t, s, "a'b", detect.InletFlow, noon, noon.Add(3*time.Hour)), series.Point{Time: later, Value: 4})
}
