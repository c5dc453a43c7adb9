package web

import (
	"math"
	"testing"
	"time"
)

// A table's litres are what the meter's total rose by, wherever in their spans
// the readings fall.
func TestLitresAreWhatTheTotalRoseBy(t *testing.T) {
	start := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	const step = 30 * time.Minute
	for name, offsets := range map[string][]time.Duration{
		"at the borders":     {0, 30 * time.Minute, 60 * time.Minute, 90 * time.Minute},
		"a little late":      {0, 30*time.Minute + 7*time.Second, 60*time.Minute + 3*time.Second, 91 * time.Minute},
		"moments apart":      {29*time.Minute + 59*time.Second, 30 * time.Minute},
		"with a silent span": {0, 61 * time.Minute, 122 * time.Minute},
	} {
		var totals []Point
		for i, o := range offsets {
			v := 100 + 3.8*float64(i)
			totals = append(totals, Point{Time: start.Add(o), Min: v, Mean: v, Max: v})
		}
		points := flowFromTotals(totals, step)
		if got, want := litres(points, step), 3.8*float64(len(offsets)-1); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %v L, want %v", name, got, want)
		}
		if highest, _ := extremes(points); highest.Max > 3.8/29 {
			t.Errorf("%s: %v L/min from %v L", name, highest.Max, 3.8)
		}
	}
}
