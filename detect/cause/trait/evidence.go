package trait

import (
	"math"
	"slices"

	"brinebell/detect"
)

// Of is the part of a finding's evidence that is traits.
func Of(e detect.Evidence) detect.Evidence {
	return pick(e, func(key string) bool { return slices.Contains(Keys(), key) })
}

// Without is the rest of it.
func Without(e detect.Evidence) detect.Evidence {
	return pick(e, func(key string) bool { return !slices.Contains(Keys(), key) })
}

func pick(e detect.Evidence, want func(string) bool) detect.Evidence {
	out := detect.Evidence{}
	for key, v := range e {
		if want(key) {
			out[key] = v
		}
	}
	return out
}

// little is what a trait that may be nothing is taken to be at least, to compare
// logarithms.
const little = 0.05

// Distance is how far evidence lies from a home that is as ever: the sum of the
// traits' logarithms, none counted for more than a factor of ten.
func Distance(e detect.Evidence) float64 {
	sum := 0.0
	for k := range kinds {
		v, ok := e[keys[k]].(float64)
		if !ok {
			continue
		}
		usual := 1.0
		if k.linear() {
			usual = little
		}
		sum += math.Min(math.Abs(math.Log(math.Max(v, little)/usual)), math.Ln10)
	}
	return sum
}
