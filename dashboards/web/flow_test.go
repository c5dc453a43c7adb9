package web

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const hour = time.Hour

// totalsOf puts the readings of a total, one a minute, into hours as a Source
// does.
func totalsOf(readings []float64) []Point {
	var out []Point
	for i, v := range readings {
		if i%60 == 0 {
			out = append(out, Point{Time: fakeNow.Add(time.Duration(i) * time.Minute), Min: v, Max: v})
		}
		p := &out[len(out)-1]
		p.Min, p.Max = min(p.Min, v), max(p.Max, v)
	}
	return out
}

// meter runs at 2 L/min and shows the total from start; it falls to zero after
// the given minutes.
func meter(minutes int, start float64, resets ...int) []float64 {
	out, total := make([]float64, minutes), start
	for i := range out {
		for _, r := range resets {
			if i == r {
				total = 0
			}
		}
		out[i] = total
		total += 2
	}
	return out
}

func TestFlowFromATotal(t *testing.T) {
	for _, p := range flowFromTotals(totalsOf(meter(600, 1234)), hour) {
		if math.Abs(p.Mean-2) > 1e-9 || !math.IsNaN(p.Min) || p.Max != p.Mean {
			t.Errorf("flow %+v at a steady 2 L/min", p)
		}
	}
}

// A reset loses at most what passed between two readings at its edge and what
// the least of its own span hides; it never invents water.
func TestAResetNeverInventsWater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(1, 599).Draw(t, "reset")
		start := rapid.Float64Range(0, 1e6).Draw(t, "start")
		flows := flowFromTotals(totalsOf(meter(600, start, at)), hour)
		got := litres(flows, hour)
		if truth := 2 * 60 * float64(len(flows)); got > truth+1e-6 || got < truth-2*60-4 {
			t.Fatalf("reset at minute %d: %v L of %v L", at, got, truth)
		}
		for _, p := range flows {
			if p.Mean < 0 || p.Mean > 4 {
				t.Fatalf("reset at minute %d: flow %+v", at, p)
			}
		}
	})
}

func TestHoursWithoutAReadingShareWhatPassed(t *testing.T) {
	all := totalsOf(meter(600, 0))
	gap := append(all[:2:2], all[5:]...)
	flows := flowFromTotals(gap, hour)
	if got := litres(flows, hour); math.Abs(got-2*60*9) > 1e-6 {
		t.Errorf("%v L over the gap, want %v", got, 2*60*9)
	}
	if flowFromTotals(nil, hour) != nil || flowFromTotals(all[:1], hour) != nil {
		t.Error("flow from less than two totals")
	}
}

func TestNothingPassedIsKnownToBeNothing(t *testing.T) {
	still := []Point{{Time: fakeNow, Min: 7, Max: 7}, {Time: fakeNow.Add(hour), Min: 7, Max: 9}, {Time: fakeNow.Add(2 * hour), Min: 9, Max: 9}}
	flows := flowFromTotals(still, hour)
	if flows[0].Min != 0 || !math.IsNaN(flows[1].Min) || !meansOnly(flows) {
		t.Errorf("flows %+v", flows)
	}
	if highest, least := extremes(flows); highest.Mean != flows[1].Mean || least != 0 {
		t.Errorf("highest %+v, least %v", highest, least)
	}
	if _, least := extremes(flows[1:]); !math.IsInf(least, 1) {
		t.Errorf("least %v of spans that do not know theirs", least)
	}
}
