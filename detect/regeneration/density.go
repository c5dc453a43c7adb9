package regeneration

import "math"

// Flows are compared on a grid, each step a quarter above the last, from a slow
// draw to a backwash of the largest household valve.
const (
	gridSize  = 24
	gridLeast = 0.3
	gridRatio = 1.25
)

// Densities of one minute's flow, in nats. A share of minutes is left to
// anything at all (a border within the minute, a lost pulse), spread over the
// range of household flows.
const (
	strayShare = 0.07
	flowRange  = 30.0 // L/min
	demandMean = 6.0  // L/min, of an open tap: common practice

	// mostDensity is above any log density of a minute. Taken off every minute,
	// it changes no comparison and makes all evidence negative, so that the
	// lattice may drop a path early.
	mostDensity = 1.4
)

func gridFlow(g int) float64 { return gridLeast * math.Pow(gridRatio, float64(g)) }

// nearFlow is the log density of a measured flow when the true one is q.
func nearFlow(x, q, pulse float64) float64 {
	s := math.Sqrt(0.01*q*q + 0.01 + pulse*pulse/4)
	z := (x - q) / s
	near := 0.0
	if z > -5 && z < 5 {
		near = (1 - strayShare) * math.Exp(-z*z/2) / (s * 2.5066)
	}
	return math.Log(near+strayShare/flowRange) - mostDensity
}

// aboveFlow is the log density of a flow upstream of the softener that carries
// q and, at times, household demand on top.
func aboveFlow(x, q, busy, pulse float64) float64 {
	s := math.Sqrt(0.01*q*q + 0.01 + pulse*pulse/4)
	z := (x - q) / s
	p := 0.02 / flowRange
	if z > -5 && z < 5 {
		p += (0.98 - busy) * math.Exp(-z*z/2) / (s * 2.5066)
	}
	if x > q {
		p += busy / demandMean * math.Exp(-(x-q)/demandMean)
	}
	return math.Log(p) - mostDensity
}
