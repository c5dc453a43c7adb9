package joint

import "math"

// Nobody stands for the missing cause in a hypothesis.
const Nobody = -1

// Hypothesis is up to two causes, by number; Nobody where there is none. A
// single cause is in A.
type Hypothesis struct{ A, B int }

// Has says whether the hypothesis holds the cause.
func (h Hypothesis) Has(c int) bool { return h.A == c || h.B == c }

// Space lists all hypotheses over some causes: none first, then every single
// cause in order, then every pair.
type Space struct {
	Causes int
	All    []Hypothesis
}

// NewSpace lists the hypotheses over n causes: 1 + n + n(n-1)/2 of them.
func NewSpace(n int) *Space {
	s := &Space{Causes: n, All: []Hypothesis{{Nobody, Nobody}}}
	for a := range n {
		s.All = append(s.All, Hypothesis{a, Nobody})
	}
	for a := range n {
		for b := a + 1; b < n; b++ {
			s.All = append(s.All, Hypothesis{a, b})
		}
	}
	return s
}

// Prior is the log probability of each hypothesis when cause c is there with
// probability p[c], independently of the others, and at most two are.
func (s *Space) Prior(p []float64) []float64 {
	odds := make([]float64, s.Causes)
	for c := range odds {
		odds[c] = math.Log(p[c]) - math.Log1p(-p[c])
	}
	logs := s.Sum(0, odds)
	s.normalise(logs)
	return logs
}

// Sum gives each hypothesis none plus what each of its causes adds.
func (s *Space) Sum(none float64, each []float64) []float64 {
	sums := make([]float64, len(s.All))
	for i, h := range s.All {
		sums[i] = none
		if h.A != Nobody {
			sums[i] += each[h.A]
		}
		if h.B != Nobody {
			sums[i] += each[h.B]
		}
	}
	return sums
}

// normalise makes log weights log probabilities.
func (s *Space) normalise(logs []float64) {
	top := math.Inf(-1)
	for _, v := range logs {
		top = math.Max(top, v)
	}
	sum := 0.0
	for _, v := range logs {
		sum += math.Exp(v - top)
	}
	norm := top + math.Log(sum)
	for i := range logs {
		logs[i] -= norm
	}
}

// Posterior is the probability of each hypothesis after the evidence, each
// piece as log likelihoods over the hypotheses.
func (s *Space) Posterior(prior []float64, evidence ...[]float64) []float64 {
	logs := make([]float64, len(prior))
	copy(logs, prior)
	for _, e := range evidence {
		for i, v := range e {
			logs[i] += v
		}
	}
	s.normalise(logs)
	for i, v := range logs {
		logs[i] = math.Exp(v)
	}
	return logs
}

// Marginals is the probability of each cause being there, alone or with another.
func (s *Space) Marginals(p []float64) []float64 {
	m := make([]float64, s.Causes)
	for i, h := range s.All {
		if h.A != Nobody {
			m[h.A] += p[i]
		}
		if h.B != Nobody {
			m[h.B] += p[i]
		}
	}
	return m
}
