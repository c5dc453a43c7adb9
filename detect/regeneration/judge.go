package regeneration

import "math"

// believed is the least confidence with which a regeneration is put on record.
const believed = 0.5

// templatePrior is what it costs, in nats, to read the cycle with its refill at
// the other end than the profile says.
const templatePrior = 8.0

// finish judges the episode and closes it. With running set its end may lie
// beyond the scene.
func (r *Recogniser) finish(running bool) *Record {
	c := r.scene(r.Episode.From, r.Watch.Running)
	p, t := r.explain(&c, running)
	w := r.weigh(&c, &p, &t)
	if from, flow, ok := r.secondHearing(); ok && w.confidence() < believed {
		c = r.scene(from, flow)
		p, t = r.explain(&c, running)
		w = r.weigh(&c, &p, &t)
	}
	r.close(running)
	if w.confidence() < believed {
		return nil
	}
	rec := r.measure(&c, &p, &t, w)
	r.Last = c.from + int64(p.end())
	r.learn(&c, &p, rec)
	return rec
}

// secondHearing says from when on, and over which running flow, an episode is
// to be judged again: its first steady flow may have been a drain that began to
// run, and the regeneration came on top of it.
func (r *Recogniser) secondHearing() (from int64, flow float64, ok bool) {
	e := &r.Episode
	if !e.DrainSeen || e.Plateaus < 2 || e.First.N < lead {
		return 0, 0, false
	}
	return e.First.Since + 2, r.Watch.Running + e.First.Mean, true
}

// close ends the episode. A drain that still runs is from now on ordinary.
func (r *Recogniser) close(running bool) {
	w := &r.Watch
	if running && w.DrainNow == w.DrainNow {
		w.Running = w.DrainNow
	}
	if r.Episode.Cue == byFlow && running {
		if least := r.Past.least(&r.Past.Up, r.Past.Next-60, r.Past.Next, flowStep); least == least {
			w.UpLeast = least
		}
	}
	// What has been judged would open the next episode until it has left the
	// level's far view.
	r.Hold = r.Past.Next + levelFarEnd
	r.Episode = Episode{}
}

// explain finds the best path under either order of the refill.
func (r *Recogniser) explain(c *scene, running bool) (path, template) {
	early := r.earlyRefill()
	t := newTemplate(&r.home.Softener, &r.Habit, early)
	if !c.hasLevel && !c.hasUp {
		t.dropRefill() // which nothing here could show
		return align(c, &t, running), t
	}
	p := align(c, &t, running)
	if r.Habit.EarlyN >= learntEnough {
		return p, t
	}
	other := newTemplate(&r.home.Softener, &r.Habit, !early)
	if q := align(c, &other, running); q.score-templatePrior > p.score {
		return q, other
	}
	return p, t
}

// scene lays the episode's minutes out.
func (r *Recogniser) scene(from int64, drains float64) scene {
	from = max(from, r.Past.Next-span)
	n := int(r.Past.Next - from)
	c := scene{n: n, from: from, running: drains, runningAfter: drains, upLeast: r.Watch.UpLeast, pulse: r.pulse(),
		sigma: 1.1*r.Watch.Noise + 0.5}
	c.drain, c.hasDrain = r.Past.copy(&r.Past.Drain, from, n, flowStep)
	if r.Watch.drainUp(r.pulse()) {
		c.runningAfter = r.Watch.Running + r.Episode.Plateau.Mean
	}
	c.up, c.hasUp = r.Past.copy(&r.Past.Up, from, n, flowStep)
	c.slowDrain = spread(c.drain)
	c.slowUp = spread(c.up)
	if least, n := leastOf(c.up); n > 0 {
		c.upLeast = min(c.upLeast, least)
	}
	c.level, c.hasLevel = r.Past.copy(&r.Past.Level, from, n, levelStep)
	power, hasPower := r.Past.copy(&r.Past.Power, from, n, powerStep)
	c.layBorders(power, hasPower, r.Watch.Idle)
	if c.hasDrain {
		c.layDrain()
	}
	if c.hasUp {
		c.layUp()
	}
	if c.hasLevel {
		c.layLevel()
	}
	c.layCeiling()
	return c
}

// fewest known minutes make a channel worth asking.
const fewest = 4

// copy decodes n minutes; known is false when there is next to nothing.
func (w *Window) copy(c *channel, from int64, n int, step float64) (values []float64, known bool) {
	values = make([]float64, n)
	count := 0
	for i := range values {
		values[i] = w.at(c, from+int64(i), step)
		if values[i] == values[i] {
			count++
		}
	}
	return values, count >= fewest
}

// slowest is the longest sampling, in minutes, whose values are taken to stand
// for the minutes since the one before.
const slowest = 6

// spread fills the minutes before each value of a slowly sampled flow with it,
// as such a value is the mean since the last one. Values sampled by the minute
// are left alone: there a missing minute is missing. It says which it was.
func spread(values []float64) (slowly bool) {
	last, n := -1, 0
	for _, v := range values {
		if v == v {
			n++
		}
	}
	if n*2 > len(values) {
		return false
	}
	for i, v := range values {
		if v != v {
			continue
		}
		for k := max(last+1, i-slowest+1); k < i && i-last <= slowest; k++ {
			values[k] = v
		}
		last = i
	}
	return true
}

// A valve's motor draws a few watts beyond its clock and board while it moves.
const (
	motorLeast = 0.5  // W in the mean of a minute
	motorShare = 0.15 // of the idle power
)

func motorRuns(watts, idle float64) bool { return watts > idle+max(motorLeast, motorShare*idle) }

// layBorders rates every minute as a border of stages by the valve's power: the
// motor runs in the minute before or after it.
func (c *scene) layBorders(power []float64, known bool, idle float64) {
	c.hasPower = known && idle == idle
	if !c.hasPower {
		return
	}
	c.border = make([]float64, c.n+1)
	for t := range c.border {
		seen, ran := false, false
		for k := max(t-2, 0); k < min(t+2, c.n); k++ {
			if power[k] == power[k] {
				seen = true
				ran = ran || motorRuns(power[k], idle)
			}
		}
		switch {
		case ran:
			c.border[t] = motor
			c.motorMinutes++
		case seen:
			c.border[t] = noMotor
		}
	}
}

// begin and end are the minutes of the scene between which the path says that
// the regeneration took place.
func (p *path) begin() int { return p.segs[0].to }

func (p *path) end() int {
	last := p.segs[p.n-1]
	if last.stage == after {
		return last.from
	}
	return last.to
}

// holdsDraw says whether the path has the stage without which nothing is a
// regeneration, drawn or not.
func (p *path) holdsDraw() bool {
	_, draws := p.find(draw)
	_, rinses := p.find(slow)
	return draws || rinses
}

// find is the first segment of a stage.
func (p *path) find(s stage) (segment, bool) {
	for _, g := range p.segs[:p.n] {
		if g.stage == s {
			return g, true
		}
	}
	return segment{}, false
}

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
	for _, g := range p.segs[:p.n] {
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
