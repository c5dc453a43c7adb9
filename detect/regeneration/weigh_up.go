package regeneration

import (
	"math"
	"slices"

	"brinebell/detect"
)

// immediate says that the softener regenerates at any hour.
func (r *Recogniser) immediate() bool {
	return r.home.Softener.Control == detect.MeteredImmediate
}

// offHour is how far a minute lies from the hour of regeneration, set or usual,
// whichever is nearer; minutes.
func (r *Recogniser) offHour(minute float64) float64 {
	at := r.minuteOfDay(minute)
	off := hourDistance(at, r.home.Softener.RegenerationTime.Minutes())
	if r.Habit.HourN >= 2 {
		if own := hourDistance(at, r.Habit.Hour); math.Abs(own) < math.Abs(off) {
			return own
		}
	}
	return off
}

// floorOf is the flow that household demand comes on top of: the lower quintile
// of the values, and the share of values near it.
func floorOf(x []float64) (floor, share float64, n int) {
	var buffer [span]float64
	for _, v := range x {
		if v == v && n < span {
			buffer[n] = v
			n++
		}
	}
	if n == 0 {
		return math.NaN(), 0, 0
	}
	slices.Sort(buffer[:n])
	floor = buffer[n/5]
	near := 0
	for _, v := range buffer[:n] {
		if math.Abs(v-floor) < 0.2*floor+0.2 {
			near++
		}
	}
	return floor, float64(near) / float64(n), n
}

// weighUp asks the meter upstream. Where the drain is watched it only has to
// show at least the drain's water; alone it has to show the cycle's flows.
func (r *Recogniser) weighUp(c *scene, p *path, t *template) float64 {
	if c.hasDrain {
		return r.weighSupply(c, p)
	}
	var runs [maxStages]run
	n, fit := 0, 0.0
	for _, g := range p.segs[:p.n] {
		if g.stage == before || g.stage == after || g.stage == pause || g.to-g.from < 2 {
			continue
		}
		floor, share, k := floorOf(c.up[g.from:g.to])
		if k == 0 {
			continue
		}
		runs[n] = run{floor - c.upLeast, float64(g.to - g.from), share}
		fit += t.fitUp(g.stage, runs[n])
		n++
	}
	flows, steady := structure(runs[:n])
	v := upOne
	switch {
	case flows >= 3:
		v = upThree
	case flows == 2:
		v = upTwo
	}
	if !steady {
		v -= 3
	}
	if c.slowUp {
		v += upSlow
	}
	return min(max(v+fit, upShort), upMost)
}

// leastClose bounds what one odd figure can say: a tap may have run.
const leastClose = -1.5

// chanceScatter is how widely the flow and length of a stage would be spread,
// as a standard deviation of the logarithm, were it household use.
const chanceScatter = 0.9

// fitUp is how much better the stage's length and flow agree with what is
// expected than chance would, in nats.
func (t *template) fitUp(s stage, q run) float64 {
	for i := range t.n {
		e := &t.steps[i]
		if e.stage != s {
			continue
		}
		flow := e.flow
		if s == draw {
			flow *= motiveShare
		}
		return closeness(q.minutes/e.minutes, max(e.scatter, 0.3)) +
			closeness(max(q.mean, 0.1)/flow, e.flowScatter+0.1)
	}
	return 0
}

// closeness weighs a ratio to the expected against chance.
func closeness(ratio, scatter float64) float64 {
	z := math.Log(ratio)
	return max(math.Log(chanceScatter/scatter)-z*z/2*(1/(scatter*scatter)-1/(chanceScatter*chanceScatter)), leastClose)
}

// weighSupply compares the drain's water with what came in, where it is known
// that the meter must have seen it.
func (r *Recogniser) weighSupply(c *scene, p *path) float64 {
	drain, supply := 0.0, 0.0
	for t := p.begin(); t < p.end() && t < c.n; t++ {
		if x, y := c.drain[t], c.up[t]; x == x && y == y {
			drain, supply = drain+x-c.running, supply+y
		}
	}
	if drain <= 5 {
		return 0
	}
	if supply >= 0.6*drain {
		return 1
	}
	if r.home.Meters.Service == nil && r.home.Meters.Inlet == nil {
		return 0 // nobody knows where the meter sits
	}
	return upShort
}
