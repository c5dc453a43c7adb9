package regeneration

import "math"

// flowPrior is what is expected of a stage's unknown flow, on the grid: what
// each flow from lo to hi costs, in nats.
type flowPrior struct {
	lo, hi int
	cost   [gridSize]float64
}

// newFlowPrior expects a flow about flow, with the given scatter of its
// logarithm, and not below least; L/min.
func newFlowPrior(flow, scatter, least float64) flowPrior {
	mid := math.Log(max(flow, gridLeast)/gridLeast) / logRatio
	reach := 2.5*scatter/logRatio + 1
	p := flowPrior{lo: max(int(mid-reach), 0), hi: min(int(mid+reach)+1, gridSize-1)}
	if least > gridLeast {
		p.lo = min(max(p.lo, int(math.Log(least/gridLeast)/logRatio)), p.hi)
	}
	for g := p.lo; g <= p.hi; g++ {
		z := (float64(g) - mid) * logRatio / scatter
		p.cost[g] = z * z / 2
	}
	return p
}

// evidence is that of [a, b) for a constant unknown flow.
func (p *flowPrior) evidence(at *[gridSize][]float64, a, b int) float64 {
	best := math.Inf(-1)
	for g := p.lo; g <= p.hi; g++ {
		if v := at[g][b] - at[g][a] - p.cost[g]; v > best {
			best = v
		}
	}
	return best
}

var logRatio = math.Log(gridRatio)

// motiveShare is the part of the drain's flow during the draw that comes
// through the meter upstream: the injector's motive water. The rest is brine.
const motiveShare = 0.8

// model is one stage made ready for a scene.
type model struct {
	expectation
	flows     bool // water runs to the drain
	drain, up flowPrior
}

func (c *scene) model(e expectation) model {
	m := model{expectation: e}
	m.flows = e.stage == backwash || e.stage == draw || e.stage == slow || e.stage == fast
	m.drain = newFlowPrior(e.flow+c.running/2, e.flowScatter+0.1, c.running+gridLeast)
	switch {
	case m.flows && c.hasDrain: // the drain says how much, so any flow will do
		m.up = newFlowPrior(e.flow, 3, 0)
	case e.stage == draw:
		m.up = newFlowPrior(e.flow*motiveShare, e.flowScatter+0.2, 0)
	default:
		m.up = newFlowPrior(e.flow, e.flowScatter+0.1, 0)
	}
	return m
}

// evidence is what all channels say for stage m over [a, b). It is never above
// ceiling's.
func (c *scene) evidence(m *model, a, b int) float64 {
	v := c.flowEvidence(m, a, b)
	if c.hasDrain && (m.stage == draw || m.stage == slow) {
		v = max(v, c.dryEvidence(a, b))
	}
	if c.hasLevel {
		v += c.levelEvidence(m.stage, a, b) - 1
	}
	return v
}

// dryCost is what it costs, in nats, to read a draw or a slow rinse into a drain
// that carries next to nothing: behind a plugged injector it does.
const dryCost = 6.0

// dryEvidence is that of a stage in which no water moves.
func (c *scene) dryEvidence(a, b int) float64 {
	v := c.drain0[b] - c.drain0[a] - dryCost
	if c.hasUp {
		v += c.up0[b] - c.up0[a]
	}
	return v
}

// flowEvidence is what drain and meter upstream say.
func (c *scene) flowEvidence(m *model, a, b int) float64 {
	v := 0.0
	if c.hasDrain {
		switch {
		case m.flows:
			v += m.drain.evidence(&c.drainAt, a, b)
		case m.stage == after:
			v += c.drain1[b] - c.drain1[a]
		default:
			v += c.drain0[b] - c.drain0[a]
		}
	}
	if c.hasUp {
		if m.flows || m.stage == refill {
			v += m.up.evidence(&c.upAt, a, b)
		} else {
			v += c.up0[b] - c.up0[a]
		}
	}
	return v
}

// layCeiling fills the running sums of the most that any stage can earn in each
// minute. They let the lattice drop a path without looking at it closely.
func (c *scene) layCeiling() {
	c.ceiling = make([]float64, c.n+1)
	for t := range c.n {
		c.ceiling[t+1] = c.ceiling[t]
		if c.hasDrain {
			c.ceiling[t+1] += mostOf(&c.drainAt, t, c.drain0, c.drain1)
		}
		if c.hasUp {
			c.ceiling[t+1] += mostOf(&c.upAt, t, c.up0, c.up0)
		}
	}
}

func mostOf(at *[gridSize][]float64, t int, idle, later []float64) float64 {
	most := max(idle[t+1]-idle[t], later[t+1]-later[t])
	for g := range gridSize {
		most = max(most, at[g][t+1]-at[g][t])
	}
	return most
}
