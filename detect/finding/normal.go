package finding

import "math"

// normal is what a positive quantity usually is at this home, relative to what
// its profile says: a mean of logarithms that starts at the profile's value and
// moves to the home's own. Fields are exported for snapshots.
type normal struct {
	Mean float64 // of ln(value/expected)
	N    float64 // observations behind it, at most normalMemory
}

const (
	// normalMemory is over how many observations a home's normal is a mean.
	normalMemory = 20
	// profileScatter is how far, as one standard deviation of the logarithm, a
	// home's true figure lies from what its profile says: pore share, tank
	// diameter and injector size are each known to some percent only.
	profileScatter = 0.16
	// drawScatter is the same of one measured regeneration about the home's own
	// mean: 5 mm of level noise in a draw of about 120 mm, and the injector's
	// changes with pressure.
	drawScatter = 0.08
)

// deviation is how far ratio lies from the normal, in standard deviations of
// what can be known of it.
func (n normal) deviation(ratio float64) float64 {
	mean, sd := n.belief()
	return (math.Log(math.Max(ratio, 1e-3)) - mean) / math.Hypot(sd, drawScatter)
}

// belief is the home's own mean with its standard error, shrunk to the profile
// while little has been seen (a normal mean with a normal prior).
func (n normal) belief() (mean, sd float64) {
	prior, data := 1/(profileScatter*profileScatter), n.N/(drawScatter*drawScatter)
	return n.Mean * data / (prior + data), math.Sqrt(1 / (prior + data))
}

// factor is the normal as a factor on the expected.
func (n normal) factor() float64 {
	mean, _ := n.belief()
	return math.Exp(mean)
}

// learn takes in one ratio that is believed to be sound.
func (n *normal) learn(ratio float64) {
	if !(ratio > 0) {
		return
	}
	n.N = math.Min(n.N+1, normalMemory)
	n.Mean += (math.Log(ratio) - n.Mean) / n.N
}
