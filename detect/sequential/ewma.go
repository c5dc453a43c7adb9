package sequential

import "math"

// EWMA is an exponentially weighted moving average with control limits: a
// smoothed value to show, and a test that is good at shifts of one size.
//
// Source: Roberts, Technometrics 1, 239 (1959); NIST/SEMATECH e-Handbook of
// Statistical Methods, 6.3.2.4.
type EWMA struct {
	Weight float64 // λ of the newest observation, 0 to 1
	Target float64 // mean in control, where Value starts
	Sigma  float64 // standard deviation of one observation
	Width  float64 // L: limits in standard deviations of Value
	Value  float64
	Begun  bool
}

// Add takes an observation and says whether the average is outside its limits.
// NaN changes nothing.
func (e *EWMA) Add(x float64) bool {
	if !e.Begun {
		e.Value, e.Begun = e.Target, true
	}
	if x == x {
		e.Value += e.Weight * (x - e.Value)
	}
	low, high := e.Limits()
	return e.Value < low || e.Value > high
}

// Limits are the limits after many observations.
func (e *EWMA) Limits() (low, high float64) {
	half := e.Width * e.Sigma * math.Sqrt(e.Weight/(2-e.Weight))
	return e.Target - half, e.Target + half
}
