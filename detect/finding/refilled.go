package finding

import (
	"math"

	"brinebell/detect/regeneration"
)

// refilled is how much water refills put back, by what does not depend on the
// tank: the meter before the valve where it saw them, else the minutes they took.
type refilled struct {
	Minutes normal // over the programme's
	Metered normal // litres over the dose's
}

// meteredKnown is how many refills a meter must have seen to be gone by.
const meteredKnown = 3

// more is the logarithm of this refill over the home's own.
func (f *refilled) more(v *View) float64 {
	_, _, minutes := pores(v)
	if seen := v.Record.RefillSeen / doseLitres(v.Home); seen > 0 && f.Metered.N >= meteredKnown {
		return math.Log(seen) - f.Metered.Mean
	}
	took, _ := f.Minutes.belief()
	return math.Log(minutes) - took
}

// learn takes in a refill that is believed to be sound.
func (f *refilled) learn(v *View, r *regeneration.Record) {
	_, _, minutes := pores(v)
	f.Minutes.learn(minutes)
	f.Metered.learn(r.RefillSeen / doseLitres(v.Home))
}
