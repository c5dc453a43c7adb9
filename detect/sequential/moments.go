package sequential

import "math"

// Moments is a running mean and variance by Welford's recurrence
// (Technometrics 4, 419, 1962), which does not lose figures to a large mean.
// With a Memory, older observations fade: each new one weighs at least
// 1/Memory.
type Moments struct {
	Memory float64 // observations; 0: all count alike
	N      float64 // weight behind the mean, at most Memory
	Mean   float64
	Square float64 // weighted sum of squares about the mean
}

// Add takes an observation; NaN is left out.
func (m *Moments) Add(x float64) {
	if x != x {
		return
	}
	if m.Memory > 0 && m.N > m.Memory-1 {
		m.Square *= (m.Memory - 1) / m.N
		m.N = m.Memory - 1
	}
	m.N++
	d := x - m.Mean
	m.Mean += d / m.N
	m.Square += d * (x - m.Mean)
}

// Deviation is the standard deviation, NaN before two observations.
func (m *Moments) Deviation() float64 {
	if m.N < 2 {
		return math.NaN()
	}
	return math.Sqrt(m.Square / (m.N - 1))
}
