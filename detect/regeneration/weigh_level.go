package regeneration

import "math"

// levels are the brine tank's levels about the path's stages, mm; NaN where
// nothing is known. Full is the level before the draw, start that before the
// whole cycle: they differ when the refill comes first.
type levels struct {
	start, full, lowest, end   float64
	fullN, lowestN, endN       int
	fell, rose                 float64 // mm; positive
	fellSure, roseSure         float64 // in standard deviations
	drawMinutes, refillMinutes int
	hasDraw, hasRefill         bool
}

// For how many minutes at most a resting level is averaged.
const (
	restBefore = 15
	restLow    = 25
	restAfter  = 10
)

// rest is the mean level in [a, b) of the scene, held to it.
func (c *scene) rest(a, b int) (float64, int) {
	a, b = max(a, 0), min(b, c.n)
	if a >= b {
		return math.NaN(), 0
	}
	return known(c.level[a:b])
}

// levelsOf reads the levels about the stages of the path.
func levelsOf(c *scene, p *path) levels {
	v := levels{start: math.NaN(), full: math.NaN(), lowest: math.NaN(), end: math.NaN()}
	if !c.hasLevel {
		return v
	}
	d, hasDraw := p.find(draw)
	f, hasRefill := p.find(refill)
	v.hasDraw, v.hasRefill = hasDraw, hasRefill
	v.start, _ = c.rest(p.begin()-restBefore, p.begin())
	if !hasDraw {
		d = p.still()
	}
	low := p.begin()
	if p.early && hasRefill {
		low = f.to
	}
	v.full, v.fullN = c.rest(max(d.from-restBefore, low), d.from)
	if v.fullN == 0 {
		v.full, v.fullN = c.rest(d.from-restBefore, d.from)
	}
	if v.start != v.start {
		v.start = v.full
	}
	lowEnd := p.end()
	if !p.early && hasRefill {
		lowEnd = f.from
	}
	lowFrom := d.to
	if lowEnd <= d.to { // the refill follows at once: its first minute is no longer low
		lowFrom, lowEnd = max(d.from, d.to-2), d.to
		if lowFrom == lowEnd {
			lowFrom--
		}
	}
	v.lowest, v.lowestN = c.rest(lowFrom, min(d.to+restLow, lowEnd))
	v.end, v.endN = v.lowest, v.lowestN
	if !p.early {
		v.end, v.endN = c.rest(p.end(), p.end()+restAfter)
	}
	v.drawMinutes, v.refillMinutes = d.to-d.from, f.to-f.from
	v.moves(c, p)
	return v
}

// still is the stretch in which a draw should have been where none was.
func (p *path) still() segment {
	if g, ok := p.find(slow); ok {
		return segment{draw, g.from, g.from}
	}
	return segment{draw, p.begin(), p.begin()}
}

// moves works out how far the level fell and rose, and how surely.
func (v *levels) moves(c *scene, p *path) {
	se := func(n, m int) float64 {
		return c.sigma * math.Sqrt(1/float64(max(n, 1))+1/float64(max(m, 1)))
	}
	v.fell, v.fellSure = v.full-v.lowest, (v.full-v.lowest)/se(v.fullN, v.lowestN)
	from, n := v.lowest, v.lowestN
	to, m := v.end, v.endN
	if p.early {
		from, n, to, m = v.start, v.fullN, v.full, v.fullN
	}
	v.rose, v.roseSure = to-from, (to-from)/se(n, m)
}

// usualRise is by how much, of the logarithm, a refill may differ from the usual.
const usualRise = 0.15

// A level has moved when it did by so many mm and standard deviations.
const (
	movedMM   = 6.0
	movedSure = 4.0
)

// refilled says whether the level rose with the refill.
func (v *levels) refilled() bool {
	return v.rose > movedMM && v.roseSure > movedSure && v.hasRefill
}

func weighLevel(c *scene, p *path, h *Habit) float64 {
	v := levelsOf(c, p)
	fell := v.fell > movedMM && v.fellSure > movedSure
	rose := v.refilled()
	if v.fell != v.fell {
		return levelStill // it is watched, but nothing of a draw was in view
	}
	w := 0.0
	switch {
	case fell && v.drawMinutes <= 2:
		w += levelStep1
	case fell:
		w += levelDraw
	case rose && v.refillMinutes <= 1:
		return levelJump
	case rose && h.RiseN >= 2 && math.Abs(math.Log(v.rose)-h.Rise) < usualRise:
		return levelUsual
	case rose && h.RiseN >= 2:
		return levelOdd
	case rose:
		return levelRise
	default:
		return levelStill
	}
	switch ratio := v.rose / v.fell; {
	case rose && ratio > 0.4 && ratio < 2.5:
		w += levelRefill
	case rose:
		w += levelOneSide
	case v.rose == v.rose:
		w += levelNoRise
	}
	return w
}
