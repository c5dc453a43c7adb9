package sequential

import "math"

// NewPoisson is the CUSUM for counts whose mean rises (or falls) from usual to
// changed per observation: its reference is the count at which either mean
// explains the observation as well, (λ1-λ0)/ln(λ1/λ0). For a fall, add the
// negated counts: the reference is negated too. Limit counts in events.
//
// Source: Lucas, Technometrics 27, 129 (1985).
func NewPoisson(usual, changed, limit float64) CUSUM {
	k := (changed - usual) / math.Log(changed/usual)
	if changed < usual {
		k = -k
	}
	return CUSUM{Reference: k, Limit: limit}
}

// PoissonInformation is the Kullback-Leibler divergence per observation of a
// changed Poisson mean from the usual one, in nats: the delay of the best test is about
// ln(run length) over it.
func PoissonInformation(usual, changed float64) float64 {
	return changed*math.Log(changed/usual) - (changed - usual)
}
