package sequential

import "math"

// shifts is how many alternatives a ShiryaevRoberts weighs: three an octave
// over a fourfold range lose nothing more than can be measured.
const shifts = 7

// ShiryaevRoberts is a mixture of Shiryaev-Roberts statistics R = (1+R)L over
// shifts spread evenly in logarithm from Least to Most: the likelihood of a
// change somewhere in the past by some shift of the range, against none. It
// signals above Threshold. Memory is bounded: one number a shift.
//
// Sources: Roberts, Technometrics 8, 411 (1966); Pollak, Annals of Statistics
// 15, 749 (1987) for the mixture and its run length.
type ShiryaevRoberts struct {
	Least, Most float64 // shifts up, in standard deviations, both above 0
	Threshold   float64
	R           [shifts]float64
}

// ShiryaevRobertsFor sets the threshold for a mean run length in control. R
// less the number of observations is a martingale, so the run length is the
// mean of R at the signal: the threshold and its overshoot, e^0.583δ on
// average.
func ShiryaevRobertsFor(least, most, runLength float64) ShiryaevRoberts {
	s := ShiryaevRoberts{Least: least, Most: most}
	short := 0.0
	for i := range shifts {
		short += math.Exp(-overshoot*s.shift(i)) / shifts
	}
	s.Threshold = runLength * short
	return s
}

// shift is the i-th alternative.
func (s *ShiryaevRoberts) shift(i int) float64 {
	return s.Least * math.Pow(s.Most/s.Least, float64(i)/(shifts-1))
}

// Add takes an observation in standard deviations from the mean in control and
// says whether the mixture is beyond its threshold. NaN changes nothing.
func (s *ShiryaevRoberts) Add(z float64) bool {
	if z == z {
		for i := range s.R {
			d := s.shift(i)
			s.R[i] = (1 + s.R[i]) * math.Exp(d*z-d*d/2)
		}
	}
	return s.Value() > s.Threshold
}

// Value is the mixture.
func (s *ShiryaevRoberts) Value() float64 {
	sum := 0.0
	for _, r := range s.R {
		sum += r
	}
	return sum / shifts
}

// Likeliest is the shift of the range with the most weight now.
func (s *ShiryaevRoberts) Likeliest() float64 {
	best := 0
	for i, r := range s.R {
		if r > s.R[best] {
			best = i
		}
	}
	return s.shift(best)
}
