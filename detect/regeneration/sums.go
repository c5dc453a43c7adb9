package regeneration

import "math"

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

// levelEvidence leaves a stage's first minute out: it holds the level's mean over
// parts of two stages, which lies on neither's line.
func (c *scene) levelEvidence(s stage, a, b int) float64 {
	if a > 0 && b-a > 1 && !c.slowLevel {
		a++
	}
	switch s {
	case draw:
		return c.levelFit(a, b, -mostFall, -leastFall)
	case refill:
		return c.levelFit(a, b, leastFall, mostFall)
	}
	return c.levelFit(a, b, -driftSlope, driftSlope)
}
