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
	rec.DrawMinutes = math.NaN()
	if c.hasLevel {
		rec.DrawMinutes = float64(v.drawMinutes)
	}
	if c.hasDrain {
		rec.RunningDrain = c.running
	}
	if rec.Ending == NeverEnded {
		rec.End = r.when(float64(c.from) + float64(c.n))
	}
	rec.Manual = !r.immediate() && r.manual(c, p, start)
	rec.RefillLitres, rec.RefillSeen = r.refillLitres(c, p, &v), math.NaN()
	if g, ok := p.find(refill); ok && c.hasUp {
		rec.RefillSeen = c.refillUp(g)
	}
	r.phases(rec, c, p, &v)
	return rec
}

const (
	// manualAfter is how many minutes off the set hour a start is somebody's doing.
	manualAfter = 45
	// summerTime is an hour that a valve's clock was not moved by, and summerError
	// how near to it a start must be, minutes.
	summerTime, summerError = 60, 15
)

// manual says whether somebody started the cycle. Where the brine is made ahead,
// the hour may be that of the refill or of the backwash.
func (r *Recogniser) manual(c *scene, p *path, start float64) bool {
	off := math.Abs(r.offHour(start))
	if p.early {
		for _, g := range p.segs[:p.n] {
			if g.stage != before && g.stage != refill && g.stage != pause {
				off = min(off, math.Abs(r.offHour(float64(c.from)+float64(g.from))))
				break
			}
		}
	}
	return off > manualAfter && math.Abs(off-summerTime) > summerError
}

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
