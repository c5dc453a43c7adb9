package regeneration

import "math"

// drainLitres is all water to the drain over the path, NaN without a meter.
func (c *scene) drainLitres(p *path) float64 {
	if !c.hasDrain && !c.dry {
		return math.NaN()
	}
	sum := 0.0
	for _, g := range p.segs[:p.n] {
		if g.stage != before && g.stage != after {
			sum += litres(c.drain[g.from:g.to])
		}
	}
	for _, t := range [2]int{p.begin() - 1, p.end()} {
		if t >= 0 && t < c.n && c.drain[t] > c.running {
			sum += c.drain[t] - c.running // the rest of a minute shared with service
		}
	}
	return sum
}

// litres is the volume of a stretch; unknown minutes carry the mean of the rest.
func litres(x []float64) float64 {
	mean, _ := known(x)
	return mean * float64(len(x))
}

// refillLitres comes from the level, else from the meter upstream. A refill
// that was looked for and did not come is 0.
func (r *Recogniser) refillLitres(c *scene, p *path, v *levels) float64 {
	g, ok := p.find(refill)
	if c.hasLevel {
		switch {
		case p.early:
			return r.between(v.full, v.start)
		case v.end == v.end && v.lowest == v.lowest:
			return r.between(v.end, v.lowest)
		}
	}
	if c.hasUp && ok {
		return c.refillUp(g)
	}
	return math.NaN()
}

// refillUp is the refill as the meter upstream saw it: its floor flow, over its
// whole minutes and its share of those at either end.
func (c *scene) refillUp(g segment) float64 {
	floor, _, n := floorOf(c.up[g.from:g.to])
	if floor -= c.upLeast; n == 0 || !(floor > 0) {
		return math.NaN()
	}
	sum := 0.0
	for t := max(g.from-1, 0); t < min(g.to+1, c.n); t++ {
		x := c.up[t] - c.upLeast
		if c.hasDrain && c.drain[t] == c.drain[t] {
			x -= max(c.drain[t]-c.running, 0)
		}
		inside := t >= g.from && t < g.to
		switch {
		case x != x && inside:
			sum += floor
		case x != x || t < g.from && !c.hasDrain:
		default:
			sum += min(max(x, 0), floor)
		}
	}
	return sum
}
