package joint

import "math"

// Trigger is an alarm that was raised, with details that come from whatever
// raised it. The last of the slices is the leak: raised by none of the causes.
type Trigger struct {
	Chance []float64 // that each cause by itself raises it; the leak last
	Detail []float64 // likelihood of the details if this one raised it; the leak last
}

// share is the weight of the causes of h and of the leak: chance and chance
// times likelihood of the details.
func (t Trigger) share(h Hypothesis) (chance, silent, weighed float64) {
	leak := len(t.Chance) - 1
	chance, silent, weighed = t.Chance[leak], 1-t.Chance[leak], t.Chance[leak]*t.Detail[leak]
	for _, c := range [2]int{h.A, h.B} {
		if c != Nobody {
			chance += t.Chance[c]
			silent *= 1 - t.Chance[c]
			weighed += t.Chance[c] * t.Detail[c]
		}
	}
	return chance, silent, weighed
}

// Raised is the log likelihood of the alarm with its details: the noisy or of
// its causes, times the likelihood of the details, which are those of one of
// them in proportion to its chance.
func (s *Space) Raised(t Trigger) []float64 {
	logs := make([]float64, len(s.All))
	for i, h := range s.All {
		chance, silent, weighed := t.share(h)
		logs[i] = math.Log((1 - silent) * weighed / chance)
	}
	return logs
}

// Blame shares the alarm out: the probability that each cause raised it, and
// last that none did. It sums to 1.
func (s *Space) Blame(t Trigger, p []float64) []float64 {
	blame := make([]float64, s.Causes+1)
	for i, h := range s.All {
		_, _, weighed := t.share(h)
		for _, c := range [2]int{h.A, h.B} {
			if c != Nobody {
				blame[c] += p[i] * t.Chance[c] * t.Detail[c] / weighed
			}
		}
		leak := s.Causes
		blame[leak] += p[i] * t.Chance[leak] * t.Detail[leak] / weighed
	}
	return blame
}
