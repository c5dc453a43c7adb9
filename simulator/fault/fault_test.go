package fault

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

var noon = time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)

func TestLevelRisesAndEnds(t *testing.T) {
	f := Fault{Cause: detect.SealsWorn, Start: noon, End: noon.Add(10 * time.Hour), Severity: 0.8, Ramp: 4 * time.Hour}
	for _, at := range []struct {
		hours float64
		want  float64
	}{{-1, 0}, {0, 0}, {1, 0.2}, {2, 0.4}, {4, 0.8}, {9.99, 0.8}, {10, 0}, {20, 0}} {
		got := f.Level(noon.Add(time.Duration(at.hours * float64(time.Hour))))
		if d := got - at.want; d > 1e-9 || d < -1e-9 {
			t.Errorf("after %v h: %v, want %v", at.hours, got, at.want)
		}
	}
}

func TestLevelAtOnceWithoutRamp(t *testing.T) {
	f := Fault{Start: noon, End: noon.Add(time.Hour), Severity: 0.5}
	if f.Level(noon) != 0.5 || f.Level(noon.Add(-1)) != 0 || !f.Active(noon) || f.Active(f.End) {
		t.Errorf("%v at its start", f.Level(noon))
	}
}

func TestLevelNeverFallsBeforeTheEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Fault{Start: noon, End: noon.Add(1000 * time.Hour), Severity: rapid.Float64Range(0, 1).Draw(t, "severity"),
			Ramp: time.Duration(rapid.Int64Range(0, int64(2000*time.Hour)).Draw(t, "ramp"))}
		a := time.Duration(rapid.Int64Range(0, int64(999*time.Hour)).Draw(t, "a"))
		b := a + time.Duration(rapid.Int64Range(0, int64(999*time.Hour)-int64(a)).Draw(t, "b"))
		la, lb := f.Level(noon.Add(a)), f.Level(noon.Add(b))
		if la > lb || lb > f.Severity {
			t.Errorf("%v then %v of %v", la, lb, f.Severity)
		}
	})
}

func TestEveryCauseHasAPlaceAndAHabit(t *testing.T) {
	want := map[Where]int{Plumbing: 4, Sensing: 3, Household: 2, PlantSide: 20}
	got := map[Where]int{}
	for _, c := range detect.Causes() {
		got[Place(c)]++
		h := HabitOf(c)
		if h.Why == "" || h.Creeps < 0 || h.Least < 0 || h.Least > h.Most || h.Most > 0 && h.Least == 0 {
			t.Errorf("%s: %+v", c, h)
		}
	}
	for w, n := range want {
		if got[w] != n {
			t.Errorf("%s: %d causes, want %d", w, got[w], n)
		}
	}
	for c := range habits {
		if !slices.Contains(detect.Causes(), c) {
			t.Errorf("habit of unknown cause %q", c)
		}
	}
}

func TestJammedMeterReachesTheValve(t *testing.T) {
	for c, want := range map[detect.Cause]bool{detect.MeterJammed: true, detect.MeterCable: true, detect.SensorFault: false,
		detect.FlapperLeak: false, detect.UseGrew: false, detect.SaltBridge: true} {
		if got := ReachesPlant(c); got != want {
			t.Errorf("%s: %v", c, got)
		}
	}
}
