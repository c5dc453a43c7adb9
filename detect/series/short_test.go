package series

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestShortKeepsWhatItWasGiven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := math.Exp(rapid.Float64Range(math.Log(1e-5), math.Log(1000)).Draw(t, "log"))
		got := float64(Shorten(v).Float())
		if math.Abs(got-v) > v/4000 {
			t.Fatalf("%g became %g", v, got)
		}
		if Shorten(got) != Shorten(v) {
			t.Fatalf("%g does not keep", got)
		}
	})
}

func TestShortAtItsEnds(t *testing.T) {
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {-3, 0}, {1e-9, 0}, {1, 1}, {0.5, 0.5}, {250, 250}, {math.Inf(1), float64(shortMost.Float())},
	} {
		if got := float64(Shorten(c.in).Float()); got != c.want {
			t.Errorf("%g became %g, want %g", c.in, got, c.want)
		}
	}
	if got := Shorten(math.NaN()).Float(); got == got {
		t.Errorf("unknown became %g", got)
	}
	if most := shortMost.Float(); most < maxFlow {
		t.Errorf("no more than %g", most)
	}
}

// Order is kept, so that a threshold means the same before and after.
func TestShortKeepsOrder(t *testing.T) {
	last := float32(-1)
	for s := Short(0); s <= shortMost; s++ {
		if f := s.Float(); f <= last {
			t.Fatalf("%d is %g, after %g", s, f, last)
		} else {
			last = f
		}
	}
}
