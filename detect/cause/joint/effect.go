package joint

import "math"

// Effect is something with states, mildest first, that causes bring about.
// It is not changed once made.
type Effect struct {
	none  []float64   // chance of at most this state without any cause
	alone [][]float64 // the same of each cause by itself; nil: it adds nothing
}

// NewEffect makes an effect from the chances of its states without any cause
// and from each cause by itself, each summing to 1. A nil row adds nothing.
func NewEffect(none []float64, alone [][]float64) *Effect {
	e := &Effect{none: cumulate(none), alone: make([][]float64, len(alone))}
	for c, row := range alone {
		if row != nil {
			e.alone[c] = cumulate(row)
		}
	}
	return e
}

func cumulate(p []float64) []float64 {
	sums := make([]float64, len(p))
	sum := 0.0
	for i, v := range p {
		sum += v
		sums[i] = sum
	}
	sums[len(p)-1] = 1
	return sums
}

// States is how many states the effect has.
func (e *Effect) States() int { return len(e.none) }

// Chance is the probability of a state under a hypothesis: noisy max.
func (e *Effect) Chance(h Hypothesis, state int) float64 {
	if state == 0 {
		return e.atMost(h, 0)
	}
	return math.Max(0, e.atMost(h, state)-e.atMost(h, state-1))
}

func (e *Effect) atMost(h Hypothesis, state int) float64 {
	p := e.none[state]
	if h.A != Nobody && e.alone[h.A] != nil {
		p *= e.alone[h.A][state]
	}
	if h.B != Nobody && e.alone[h.B] != nil {
		p *= e.alone[h.B][state]
	}
	return p
}

// Log is the log likelihood of what was seen, given how likely each state makes
// it: one 1 and else 0 where the state itself was seen, densities where it
// shows in a measurement only.
func (s *Space) Log(e *Effect, seen []float64) []float64 {
	logs := make([]float64, len(s.All))
	for i, h := range s.All {
		sum := 0.0
		for state, like := range seen {
			if like > 0 {
				sum += like * e.Chance(h, state)
			}
		}
		logs[i] = math.Log(math.Max(sum, least))
	}
	return logs
}

// least keeps a hypothesis that the table rules out alive, at a thousandth of a
// thousandth: tables are written by people.
const least = 1e-6

// One is the evidence that a state itself was seen.
func One(states, seen int) []float64 {
	like := make([]float64, states)
	like[seen] = 1
	return like
}

// Prospects are an effect's chances under every hypothesis, worked out once for
// asking often what seeing it would tell.
type Prospects struct {
	chance [][]float64 // by state and hypothesis
	plogp  [][]float64 // each times its binary logarithm
	logs   [][]float64 // log likelihood of the state seen
}

// Prospects works them out.
func (s *Space) Prospects(e *Effect) *Prospects {
	o := &Prospects{}
	for state := range e.none {
		chance, plogp := make([]float64, len(s.All)), make([]float64, len(s.All))
		for i, h := range s.All {
			if c := e.Chance(h, state); c > 0 {
				chance[i], plogp[i] = c, c*math.Log2(c)
			}
		}
		o.chance, o.plogp = append(o.chance, chance), append(o.plogp, plogp)
		o.logs = append(o.logs, s.Log(e, One(len(e.none), state)))
	}
	return o
}

// Log is the log likelihood of having seen the state. It is not to be changed.
func (o *Prospects) Log(state int) []float64 { return o.logs[state] }

// Information is how many bits seeing the state is expected to tell about which
// hypothesis holds, p being their probabilities now: the mutual information of
// the two.
func (o *Prospects) Information(p []float64) float64 {
	bits := 0.0
	for state := range o.chance {
		whole, part := 0.0, 0.0
		for i, v := range p {
			whole += v * o.chance[state][i]
			part += v * o.plogp[state][i]
		}
		if whole > 0 {
			bits += part - whole*math.Log2(whole)
		}
	}
	return math.Max(0, bits)
}
