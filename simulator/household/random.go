package household

import (
	"math"
	"math/rand/v2"
)

// The streams of a household. Each purpose draws from its own, so that one more
// shower does not move next year's holiday.
const (
	streamDraw uint64 = 0x686f757365 + iota
	streamDays
	streamCalendar
	streamGarden
	streamLeaks
	streamSalt
)

func stream(seed, purpose uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, purpose))
}

// around draws from a log-normal distribution of the given mean and
// coefficient of variation, no further than three standard deviations off.
func around(r *rand.Rand, mean, cv float64) float64 {
	s2 := math.Log1p(cv * cv)
	z := max(-3, min(3, r.NormFloat64()))
	return mean * math.Exp(float64(math.Sqrt(s2)*z)-float64(s2/2))
}

func between(r *rand.Rand, low, high float64) float64 {
	return low + float64((high-low)*r.Float64())
}

func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// poisson draws a count of the given mean by multiplying uniforms; the means
// here are a few dozen at most.
func poisson(r *rand.Rand, mean float64) int {
	if mean <= 0 {
		return 0
	}
	n, p, limit := 0, 1.0, math.Exp(-mean)
	for {
		p *= r.Float64()
		if p < limit {
			return n
		}
		n++
	}
}

// pick draws an index with the given shares.
func pick(r *rand.Rand, share []float64) int {
	u := r.Float64()
	for i, s := range share {
		if u < s {
			return i
		}
		u -= s
	}
	return len(share) - 1
}

// round rounds to a multiple of step.
func round(v, step float64) float64 { return math.Round(v/step) * step }
