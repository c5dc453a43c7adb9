package regeneration

import (
	"math"
	"time"

	"brinebell/detect"
)

// phaseOf names a stage as the household reads it.
var phaseOf = map[stage]detect.Phase{backwash: detect.Backwash, draw: detect.BrineDraw, slow: detect.SlowRinse,
	fast: detect.FastRinse, refill: detect.Refill}

// measure turns the path into a record.
func (r *Recogniser) measure(c *scene, p *path, t *template, w Odds) *Record {
	v := levelsOf(c, p)
	start, startError := r.startOf(c, p, t)
	rec := &Record{
		Start: r.when(start), End: r.when(float64(c.from) + float64(p.end())), StartError: startError,
		Ending: r.ending(c, p, t, &v), Confidence: w.confidence(),
		LevelStart: v.start, LevelLowest: v.lowest, LevelEnd: v.end,
		BrineLitres: r.between(v.full, v.lowest), DrainLitres: c.drainLitres(p), RunningDrain: math.NaN(), Odds: w,
	}
	if c.hasDrain {
		rec.RunningDrain = c.running
	}
	if rec.Ending == NeverEnded {
		rec.End = r.when(float64(c.from) + float64(c.n))
	}
	rec.Manual = !r.immediate() && math.Abs(r.offHour(start)) > manualAfter
	rec.RefillLitres = r.refillLitres(c, p, &v)
	r.phases(rec, c, p, &v)
	return rec
}

// manualAfter is how many minutes off the set hour a start is somebody's doing.
const manualAfter = 45

// between is the liquid between two levels, not below nothing.
func (r *Recogniser) between(high, low float64) float64 {
	top := math.NaN()
	if r.SaltTop > 0 {
		top = r.SaltTop
	}
	v := r.tank.Volume(high, top) - r.tank.Volume(low, top)
	if v < 0 {
		return 0
	}
	return v
}

// startOf refines the start by what the first minutes carry, and says how
// uncertain it is.
func (r *Recogniser) startOf(c *scene, p *path, t *template) (minute float64, sd time.Duration) {
	a := p.begin()
	first := p.segs[min(1, p.n-1)]
	minute = float64(c.from) + float64(a)
	switch {
	case c.hasDrain && first.stage != refill:
		if f, ok := partOf(c.drain, first, c.running); ok {
			return float64(c.from) + float64(a) + 1 - f, 20 * time.Second
		}
		return minute, 3 * time.Minute
	case c.hasUp:
		return minute, 2 * time.Minute
	case first.stage == refill || first.stage == draw:
		return minute, 3 * time.Minute
	}
	e := t.steps[0]
	return minute, time.Duration(math.Hypot(e.minutes*e.scatter, 3) * float64(time.Minute))
}

// partOf is how much of the minutes about a segment's start it fills.
func partOf(x []float64, g segment, base float64) (float64, bool) {
	if g.from < 1 || g.to-g.from < 3 {
		return 0, false
	}
	q, n := known(x[g.from+1 : g.to-1])
	u, v := x[g.from-1], x[g.from]
	if n == 0 || u != u || v != v || q-base < 0.2 {
		return 0, false
	}
	part := func(x float64) float64 { return min(max((x-base)/(q-base), 0), 1) }
	return part(u) + part(v), true
}

// drainLitres is all water to the drain over the path, NaN without a meter.
func (c *scene) drainLitres(p *path) float64 {
	if !c.hasDrain {
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

// ending says how the path ended. What cannot be seen is taken to have gone
// well.
func (r *Recogniser) ending(c *scene, p *path, t *template, v *levels) Ending {
	if c.standsStill(p) {
		return NeverEnded
	}
	if p.open {
		if r.overdue(p, t) {
			return NeverEnded
		}
		return CutShort
	}
	if t.minutes(fast) > 0 && (c.hasDrain || c.hasUp) {
		if !c.rinsedFast(p, t) {
			return CutShort
		}
		return Completed
	}
	if c.hasLevel && !p.early && !v.refilled() {
		return CutShort
	}
	return Completed
}

// shortRinse is the share of the expected fast rinse below which it was cut.
const shortRinse = 0.4

// rinsedFast says whether the fast rinse came, for its time, and at another
// flow than the rinse before it where it should.
func (c *scene) rinsedFast(p *path, t *template) bool {
	g, ok := p.find(fast)
	if !ok || float64(g.to-g.from) < shortRinse*t.minutes(fast) {
		return false
	}
	runs, n := p.runs(c.drain, c.running)
	if !c.hasDrain || c.slowDrain || n < 2 || t.flow(fast) < different*t.flow(slow) {
		return true
	}
	return runs[n-1].mean > math.Sqrt(different)*runs[n-2].mean
}

// standsStill says that the drain goes on, to the end of the scene, with the
// flow of the path's last stage: the valve has not moved on.
func (c *scene) standsStill(p *path) bool {
	if !c.hasDrain || p.open || c.runningAfter < c.running+gridLeast {
		return false
	}
	runs, n := p.runs(c.drain, c.running)
	return n > 0 && math.Abs(math.Log(runs[n-1].mean/(c.runningAfter-c.running))) < math.Log(different)
}

// overdue says whether an open path has gone far beyond its programme.
func (r *Recogniser) overdue(p *path, t *template) bool {
	return float64(p.end()-p.begin()) > 1.6*t.total()
}

// phases lists the path's stages. Where the programme does not list the slow
// rinse, it is part of the brine draw.
func (r *Recogniser) phases(rec *Record, c *scene, p *path, v *levels) {
	joined := !lists(&r.home.Softener, detect.SlowRinse)
	for i, g := range p.segs[:p.n] {
		if g.stage == before || g.stage == after || g.stage == pause {
			continue
		}
		q := Phase{Name: phaseOf[g.stage], Start: r.when(float64(c.from) + float64(g.from)),
			Duration: time.Duration(g.to-g.from) * time.Minute, DrainLitres: math.NaN(), BrineLitres: math.NaN()}
		if c.hasDrain {
			q.DrainLitres = litres(c.drain[g.from:g.to])
		}
		switch g.stage {
		case draw:
			q.BrineLitres = rec.BrineLitres
		case refill:
			q.BrineLitres = -rec.RefillLitres
		}
		if joined && g.stage == slow {
			if n := len(rec.Phases); i > 0 && p.segs[i-1].stage == draw && n > 0 {
				rec.Phases[n-1].Duration += q.Duration
				rec.Phases[n-1].DrainLitres += q.DrainLitres
				continue
			}
			q.Name, q.BrineLitres = detect.BrineDraw, rec.BrineLitres
		}
		rec.Phases = append(rec.Phases, q)
	}
	if n := len(rec.Phases); n > 0 {
		rec.Phases[0].Start = rec.Start
	}
}
