package trait

import (
	"math"
	"testing"

	"brinebell/detect"
)

// hear plays days of a run whose hardness is a share of raw by day, with a probe
// that speaks twice an hour.
func hear(r *Run, days float64, share func(day float64) float64) {
	for minute := range int(days * 1440) {
		cold := math.NaN()
		if minute%30 == 0 {
			cold = 300 * share(float64(minute)/1440)
		}
		r.Hear(cold, 300, false)
	}
}

// A bed that is slow leaks from the first litre; one whose capacity is short is
// soft at first.
func TestRunTellsLeakFromCapacity(t *testing.T) {
	var r Run
	hear(&r, 5, func(float64) float64 { return 0.2 })
	e := detect.Evidence{}
	if r.put(e, true, true); e[SoftFloor] != 0.2 || e[SoftPeak] != 0.2 {
		t.Error(e)
	}
	r.Hear(math.NaN(), 300, true)
	hear(&r, 5, func(day float64) float64 {
		if day > 4 {
			return 0.8
		}
		return 0.02
	})
	r.end()
	r.put(e, true, true)
	if e[SoftFloor] != 0.02 || e[SoftPeak].(float64) < 0.75 {
		t.Error(e)
	}
	// A young run leaves the one before standing; its own softness is told when
	// it has lasted.
	hear(&r, 0.3, func(float64) float64 { return 0.9 })
	if r.put(e, true, true); e[SoftFloor] != 0.02 {
		t.Error(e)
	}
	hear(&r, 1, func(float64) float64 { return 0.9 })
	if r.put(e, true, true); e[SoftFloor] != 0.9 || e[SoftPeak] != 0.9 {
		t.Error(e)
	}
}

// Of a trouble that began within a run its softest water tells nothing, and of one
// that began after the run before, neither of that one's.
func TestRunTellsNothingOfBefore(t *testing.T) {
	var r Run
	hear(&r, 5, func(float64) float64 { return 0.01 })
	r.end()
	e := detect.Evidence{}
	if r.put(e, true, false); len(e) != 0 {
		t.Error(e)
	}
	hear(&r, 5, func(day float64) float64 { return 0.15 * day })
	if r.put(e, false, false); e[SoftFloor] != nil || e[SoftPeak].(float64) < 0.6 {
		t.Error(e)
	}
}

func TestRunWithoutProbe(t *testing.T) {
	var r Run
	for range 5000 {
		r.Hear(math.NaN(), 300, false)
	}
	r.end()
	e := detect.Evidence{}
	if r.put(e, true, true); len(e) != 0 {
		t.Error(e)
	}
}
