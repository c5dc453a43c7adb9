package cause

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/cause/joint"
)

// measure is a hidden state that shows in measured hardness.
type measure struct {
	states                      []stateSheet
	few, withoutRaw, typicalRaw float64
	effect                      *joint.Effect
}

// tapsLike is the density of the measured taps for each state, nil when neither
// was measured. The raw hardness is the measured one, else the one the home is
// set up for, else a typical one with its scatter.
func (m measure) tapsLike(e Evidence) []float64 {
	cold, hasCold := e.Hardness[detect.ColdHardness]
	hot, hasHot := e.Hardness[detect.HotHardness]
	if !hasCold && !hasHot {
		return nil
	}
	raw, known := e.Hardness[detect.RawHardness]
	if !known || raw <= 0 {
		raw, known = e.SetFor, e.SetFor > 0
	}
	extra := 0.0
	if !known {
		raw, extra = m.typicalRaw, math.Log(m.withoutRaw)
	}
	like := make([]float64, len(m.states))
	for i, s := range m.states {
		like[i] = 1
		if hasCold {
			like[i] *= m.tap(cold, raw, s.Cold, s.Factor, extra)
		}
		if hasHot {
			like[i] *= m.tap(hot, raw, s.Hot, s.Factor, extra)
		}
	}
	return like
}

// tap is the density of one measurement, log-normal about a share of the raw
// hardness and a few mg/L that a test cannot tell from nothing.
func (m measure) tap(measured, raw, share, factor, extra float64) float64 {
	deviation := math.Hypot(math.Log(factor), extra*math.Min(1, 2*share))
	return normal(math.Log(measured+m.few), math.Log(share*raw+m.few), deviation)
}

// rawLike is the density of the measured raw hardness against the one the home
// is set up for.
func (m measure) rawLike(e Evidence) []float64 {
	raw, measured := e.Hardness[detect.RawHardness]
	if !measured || !(raw > 0) || !(e.SetFor > 0) {
		return nil
	}
	like := make([]float64, len(m.states))
	for i, s := range m.states {
		like[i] = normal(math.Log(raw/e.SetFor), 0, math.Log(s.Factor))
	}
	return like
}
