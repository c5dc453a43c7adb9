package regeneration

import "math"

// learn teaches the home's own habit from a confident, whole regeneration.
func (r *Recogniser) learn(c *scene, p *path, rec *Record) {
	if rec.Confidence < 0.9 || rec.Ending != Completed {
		return
	}
	r.Habit.learnHour(r.minuteOfDay(float64(c.from)+float64(p.begin())), r.home.Softener.RegenerationTime.Minutes())
	if v := levelsOf(c, p); v.refilled() {
		learn(&r.Habit.Early, &r.Habit.EarlyN, map[bool]float64{true: 1}[p.early])
		learn(&r.Habit.Rise, &r.Habit.RiseN, math.Log(v.rose))
	}
	parted := r.parted(c, p)
	for _, g := range p.segs[:p.n] {
		if !parted && (g.stage == draw || g.stage == slow || g.stage == fast) {
			continue
		}
		flows := g.stage == backwash || g.stage == fast
		split := g.stage == draw || g.stage == slow
		l := &r.Habit.Stages[g.stage]
		minutes := math.Log(float64(g.to - g.from))
		switch {
		case flows && c.hasDrain, split && c.hasDrain && c.hasLevel:
			learn(&l.Minutes, &l.N, minutes)
			if q, n := known(c.drain[min(g.from+1, g.to-1):g.to]); n > 0 && q > gridLeast {
				learn(&l.Drain, &l.FlowN, math.Log(q))
			}
		case c.hasLevel && !c.hasUp && g.stage != before && g.stage != after && g.stage != pause && g.stage != backwash,
			g.stage == refill && c.hasLevel:
			learn(&l.Minutes, &l.N, minutes)
		case c.hasUp && !c.hasDrain && g.stage != pause:
			r.learnUp(c, g, l)
		}
	}
}

// parted says whether the fast rinse was told from the rinse before it by its flow,
// where the programme has one that differs and the drain shows it: a border set
// wrong once would else be learnt, and set wrong again.
func (r *Recogniser) parted(c *scene, p *path) bool {
	g, ok := p.find(fast)
	f, rinses := p.find(slow)
	if !rinses {
		f, rinses = p.find(draw)
	}
	factory := newTemplate(&r.home.Softener, &Habit{}, p.early)
	ratio := factory.flow(fast) / math.Max(factory.flow(slow), gridLeast)
	if !ok || !rinses || !c.hasDrain || ratio < different {
		return true
	}
	quick, n := known(c.drain[g.from:g.to])
	calm, m := known(c.drain[f.from:f.to])
	return n == 0 || m == 0 || quick-c.running > math.Sqrt(ratio)*(calm-c.running)
}

// learnUp teaches a stage from the flow upstream alone.
func (r *Recogniser) learnUp(c *scene, g segment, l *Learnt) {
	if g.stage == before || g.stage == after || g.to-g.from < 2 {
		return
	}
	learn(&l.Minutes, &l.N, math.Log(float64(g.to-g.from)))
	floor, _, _ := floorOf(c.up[g.from:g.to])
	floor -= c.upLeast
	if g.stage == draw {
		floor /= motiveShare
	}
	if floor > gridLeast/2 {
		learn(&l.Drain, &l.FlowN, math.Log(floor))
	}
}

// leastOf is the smallest value that is not NaN, and how many there are.
func leastOf(values []float64) (least float64, n int) {
	for _, v := range values {
		if v == v {
			if n++; n == 1 || v < least {
				least = v
			}
		}
	}
	return least, n
}

// known is the mean of the values that are not NaN, and their number.
func known(values []float64) (mean float64, n int) {
	sum := 0.0
	for _, v := range values {
		if v == v {
			sum += v
			n++
		}
	}
	if n == 0 {
		return math.NaN(), 0
	}
	return sum / float64(n), n
}
