package sequential

import "math"

// CUSUM is the one-sided cumulative sum S = max(0, S + z - Reference), which
// signals above Limit. Observations, Reference and Limit share a unit, most
// often standard deviations in control. For a shift of δ standard deviations
// the best Reference is δ/2.
//
// Source: Page, Biometrika 41, 100 (1954).
type CUSUM struct {
	Reference float64 // k
	Limit     float64 // h
	Sum       float64
	Since     int // observations since the sum last left zero: the change point's estimate
}

// Add takes an observation and says whether the sum is beyond the limit. NaN
// changes nothing.
func (c *CUSUM) Add(z float64) bool {
	if z != z {
		return c.Sum > c.Limit
	}
	c.Sum += z - c.Reference
	c.Since++
	if c.Sum <= 0 {
		c.Sum, c.Since = 0, 0
	}
	return c.Sum > c.Limit
}

// Reset starts afresh. headStart is the share of the limit to start from: 0 for
// an ordinary start, 0.5 for the fast initial response after a correction that
// may not have helped (Lucas & Crosier, Technometrics 24, 199, 1982).
func (c *CUSUM) Reset(headStart float64) {
	c.Sum, c.Since = headStart*c.Limit, 0
}

// TwoSided is a CUSUM up and one down.
type TwoSided struct {
	Up, Down CUSUM
}

// NewTwoSided makes both with reference k and limit h.
func NewTwoSided(k, h float64) TwoSided {
	return TwoSided{CUSUM{Reference: k, Limit: h}, CUSUM{Reference: k, Limit: h}}
}

// Add takes an observation; the sign says which side is beyond its limit, 0
// that none is.
func (t *TwoSided) Add(z float64) int {
	up, down := t.Up.Add(z), t.Down.Add(-z)
	switch {
	case up && (!down || t.Up.Sum >= t.Down.Sum):
		return 1
	case down:
		return -1
	}
	return 0
}

// Reset starts both afresh; see CUSUM.Reset.
func (t *TwoSided) Reset(headStart float64) {
	t.Up.Reset(headStart)
	t.Down.Reset(headStart)
}

// Siegmund approximates the mean run length of a one-sided CUSUM of unit normal
// observations with the given mean. It is within 1 % of the exact value for
// means up to 1 at the usual references.
//
// Source: Siegmund, Sequential Analysis (1985), with the overshoot 2 x 0.583.
func Siegmund(k, h, mean float64) float64 {
	b, d := h+2*overshoot, mean-k
	if math.Abs(d) < 1e-6 {
		return b * b
	}
	return (math.Exp(-2*d*b) + 2*d*b - 1) / (2 * d * d)
}

// overshoot is by how much a random walk of unit normal steps passes a far
// boundary on average: -ζ(1/2)/√(2π).
const overshoot = 0.5826

// LimitFor is the limit at which Siegmund's run length in control is that
// wanted, by bisection; 0 when it is shorter at any limit.
func LimitFor(k, runLength float64) float64 {
	low, high := 0.0, 1.0
	for Siegmund(k, high, 0) < runLength {
		high *= 2
	}
	for range 60 {
		if mid := (low + high) / 2; Siegmund(k, mid, 0) < runLength {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}
