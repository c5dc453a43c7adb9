package regeneration

import "math"

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
