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

// scene is one stretch of the window laid out for the lattice: minutes 0 to n,
// and every channel's evidence as running sums.
type scene struct {
	n            int
	from         int64
	drain        []float64 // raw, NaN where unknown
	up           []float64
	level        []float64
	running      float64 // drain flow in service before
	runningAfter float64 // and after
	upLeast      float64 // upstream flow in service when no tap is open
	sigma        float64 // of a minute's level, mm
	pulse        float64 // of the drain's meter, L

	hasDrain, hasUp, hasLevel, hasPower bool
	slowDrain, slowUp                   bool // sampled so slowly that short draws run together
	motorMinutes                        int  // borders at which the motor was seen to run

	drainAt [gridSize][]float64 // running sums of log densities at each flow of the grid
	upAt    [gridSize][]float64
	drain0  []float64 // the same for service before
	drain1  []float64 // and after
	up0     []float64
	ceiling []float64 // the most that any stage can earn
	border  []float64 // evidence of the valve's motor for a border before a minute
	sums    []lineSums
}

// lineSums are running sums for a straight line through levels.
type lineSums struct{ n, t, tt, y, ty, yy float64 }

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

// layDrain fills the running sums of the drain.
func (c *scene) layDrain() {
	c.drain0 = c.serviceDrain(c.running)
	if c.drain1 = c.drain0; c.runningAfter != c.running {
		c.drain1 = c.serviceDrain(c.runningAfter)
	}
	for g := range gridSize {
		q := gridFlow(g)
		sums := make([]float64, c.n+1)
		for t, x := range c.drain {
			sums[t+1] = sums[t]
			if x == x {
				sums[t+1] += nearFlow(x, q, c.pulse)
			}
		}
		c.drainAt[g] = sums
	}
}

// serviceDrain are the running sums of the drain in service.
func (c *scene) serviceDrain(flow float64) []float64 {
	sums := make([]float64, c.n+1)
	for t, x := range c.drain {
		sums[t+1] = sums[t]
		if x == x {
			sums[t+1] += nearFlow(x, flow, c.pulse)
		}
	}
	return sums
}

// busyShare is the share of minutes in which somebody uses water.
const busyShare = 0.15

// layUp fills the running sums of the flow upstream.
func (c *scene) layUp() {
	c.up0 = make([]float64, c.n+1)
	for t, x := range c.up {
		c.up0[t+1] = c.up0[t]
		if x == x {
			c.up0[t+1] += aboveFlow(x, c.upLeast, busyShare, 0.1)
		}
	}
	for g := range gridSize {
		q := gridFlow(g)
		sums := make([]float64, c.n+1)
		for t, x := range c.up {
			sums[t+1] = sums[t]
			if x == x {
				sums[t+1] += aboveFlow(x-c.upLeast, q, busyShare, 0.1)
			}
		}
		c.upAt[g] = sums
	}
}

// layLevel fills the sums for lines through the level.
func (c *scene) layLevel() {
	c.sums = make([]lineSums, c.n+1)
	origin := math.NaN()
	for t, y := range c.level {
		s := c.sums[t]
		if y == y {
			if origin != origin {
				origin = y
			}
			x, v := float64(t), y-origin
			s = lineSums{s.n + 1, s.t + x, s.tt + x*x, s.y + v, s.ty + x*v, s.yy + v*v}
		}
		c.sums[t+1] = s
	}
}

// levelFit is the log likelihood, up to a constant per minute, of the levels in
// [a, b) about their best line whose slope lies in [lo, hi] mm a minute.
func (c *scene) levelFit(a, b int, lo, hi float64) float64 {
	p, q := &c.sums[a], &c.sums[b]
	n := q.n - p.n
	if n < 2 {
		return 0
	}
	t, y := q.t-p.t, q.y-p.y
	sxx := q.tt - p.tt - t*t/n
	sxy := q.ty - p.ty - t*y/n
	syy := q.yy - p.yy - y*y/n
	slope := 0.0
	if sxx > 0 {
		slope = sxy / sxx
	}
	slope = min(max(slope, lo), hi)
	rss := max(syy-2*slope*sxy+slope*slope*sxx, 0)
	return -rss / (2 * c.sigma * c.sigma)
}

// Slopes of the level by stage, mm a minute. Still levels may drift with
// temperature; a draw of 0.3 L/min in a wide tank free of salt falls 1 mm/min.
const (
	driftSlope = 0.06
	leastFall  = 0.3
	mostFall   = 40.0
)

func (c *scene) levelEvidence(s stage, a, b int) float64 {
	switch s {
	case draw:
		return c.levelFit(a, b, -mostFall, -leastFall)
	case refill:
		return c.levelFit(a, b, leastFall, mostFall)
	}
	return c.levelFit(a, b, -driftSlope, driftSlope)
}

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
	if c.hasLevel {
		v += c.levelEvidence(m.stage, a, b) - 1
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
