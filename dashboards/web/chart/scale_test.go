package chart

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestScaleIsMonotonicAndWithinThePanel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Scale{High: rapid.Float64Range(0.01, 1e6).Draw(t, "high"), Root: rapid.Bool().Draw(t, "root")}
		a, b := rapid.Float64Range(-10, 2e6).Draw(t, "a"), rapid.Float64Range(-10, 2e6).Draw(t, "b")
		lower, higher := s.At(min(a, b)), s.At(max(a, b))
		if lower > higher || lower < 0 || higher > 1 {
			t.Fatalf("%v at %v, %v at %v", min(a, b), lower, max(a, b), higher)
		}
	})
}

func TestRootScaleShowsADrip(t *testing.T) {
	if got := (Scale{High: 10, Root: true}).At(0.1); math.Abs(got-0.1) > 1e-12 {
		t.Errorf("a hundredth of the top stands at %v, want a tenth", got)
	}
	if got := (Scale{High: 10}).At(0.1); math.Abs(got-0.01) > 1e-12 {
		t.Errorf("on a plain scale it stands at %v, want 0.01", got)
	}
}

func TestScaleForNeverCollapses(t *testing.T) {
	for name, points := range map[string][]Point{"none": nil, "zeros": {{}}, "infinite": {{Max: math.Inf(1)}}} {
		if s := ScaleFor(points, 0, false); !(s.High > s.Low) || math.IsInf(s.High, 0) {
			t.Errorf("%s: scale %+v", name, s)
		}
	}
	if s := ScaleFor([]Point{{Max: 0.02}}, 2, true); s.High < 2 {
		t.Errorf("a drip fills the panel: %+v", s)
	}
}

func TestTicksAreRoundAndRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := ScaleFor(nil, rapid.Float64Range(0.01, 1e5).Draw(t, "high"), rapid.Bool().Draw(t, "root"))
		ticks := s.Ticks(nil)
		if len(ticks) < 2 || len(ticks) > 8 {
			t.Fatalf("%d ticks up to %v: %v", len(ticks), s.High, ticks)
		}
		for i, tick := range ticks {
			if tick.At < 0 || tick.At > 1 || i > 0 && tick.At <= ticks[i-1].At || len(tick.Label) > 7 {
				t.Fatalf("ticks up to %v: %v", s.High, ticks)
			}
		}
	})
}
