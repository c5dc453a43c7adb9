package regeneration

import "math"

// run is a group of neighbouring stages between which the flow does not change.
type run struct{ mean, minutes, steady float64 }

// runs are the flow stages of the path as measured in x, less base. A border
// minute holds parts of two stages and is left out where there are others.
func (p *path) runs(x []float64, base float64) (out [maxStages]run, n int) {
	for i := 0; i < p.n; i++ {
		g := p.segs[i]
		if g.stage != backwash && g.stage != draw && g.stage != slow && g.stage != fast {
			continue
		}
		if g.stage == draw && p.segs[min(i+1, p.n-1)].stage == slow {
			i++ // the valve does not move in between
			g.to = p.segs[i].to
		}
		a, b := g.from, g.to
		if b-a > 2 {
			a, b = a+1, b-1
		}
		mean, k := known(x[a:b])
		if k == 0 {
			continue
		}
		out[n] = run{mean - base, float64(g.to - g.from), steadiness(x[a:b], mean)}
		n++
	}
	return out, n
}

// steadiness is the share of values near their mean.
func steadiness(x []float64, mean float64) float64 {
	near, n := 0, 0
	for _, v := range x {
		if v == v {
			n++
			if math.Abs(v-mean) <= 0.25*mean+0.3 {
				near++
			}
		}
	}
	return float64(near) / float64(max(n, 1))
}

// different flows differ by at least this factor.
const different = 1.35

// structure counts the steady flows in order that differ from their neighbours.
func structure(runs []run) (flows int, steady bool) {
	total, near, last := 0.0, 0.0, math.NaN()
	for _, q := range runs {
		if q.mean < gridLeast/2 {
			continue
		}
		total += q.minutes
		near += q.minutes * q.steady
		if last != last || math.Abs(math.Log(q.mean/last)) > math.Log(different) {
			flows++
		}
		last = q.mean
	}
	return flows, near >= 0.75*total
}

func weighDrain(c *scene, p *path, t *template) float64 {
	runs, n := p.runs(c.drain, c.running)
	flows, steady := structure(runs[:n])
	v := 0.0
	switch {
	case n == 0:
		return 0
	case flows == 0:
		return drainNone
	case flows == 1:
		v = drainOne
	case flows == 2:
		v = drainTwo
	default:
		v = drainThree
	}
	if !steady && c.pulse < 0.5 {
		v += drainRagged
	}
	return v + weighLength(runs[:n], t)
}

// weighLength compares the length of all flow stages with what is expected.
func weighLength(runs []run, t *template) float64 {
	minutes := 0.0
	for _, q := range runs {
		minutes += q.minutes
	}
	expected := t.total() - t.minutes(refill)
	z := math.Log(max(minutes, 1)/expected) / 0.5
	return max(0.7-z*z/2, -3)
}

func weighPower(c *scene, p *path) float64 {
	hits := 0
	for i := 1; i < p.n; i++ {
		if c.border[p.segs[i].from] > 0 {
			hits++
		}
	}
	switch {
	case hits == 0:
		return powerNone
	case hits == 1:
		return powerOne
	case hits == 2:
		return powerTwo
	}
	return powerThree
}
