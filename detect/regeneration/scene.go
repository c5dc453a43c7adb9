package regeneration

// scene is one stretch of the window laid out for the lattice: minutes 0 to n,
// and every channel's evidence as running sums.
type scene struct {
	n            int
	from         int64
	drain        []float64 // raw, NaN where unknown
	up           []float64
	level        []float64
	running      float64 // drain flow in service before
	runningAfter float64 // and after
	upLeast      float64 // upstream flow in service when no tap is open
	sigma        float64 // of a minute's level, mm
	pulse        float64 // of the drain's meter, L

	hasDrain, hasUp, hasLevel, hasPower bool
	slowDrain, slowUp, slowLevel        bool // sampled so slowly that short draws run together
	dry                                 bool // the drain is watched and carried nothing all along

	drainAt [gridSize][]float64 // running sums of log densities at each flow of the grid
	upAt    [gridSize][]float64
	drain0  []float64 // the same for service before
	drain1  []float64 // and after
	up0     []float64
	ceiling []float64 // the most that any stage can earn
	border  []float64 // evidence of the valve's motor for a border before a minute
	sums    []lineSums
}

// lineSums are running sums for a straight line through levels.
type lineSums struct{ n, t, tt, y, ty, yy float64 }

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
	if c.hasDrain && !r.Episode.DrainSeen {
		c.hasDrain, c.dry = false, true // its meter may stand still, or its line be blocked
	}
	c.slowDrain = spread(c.drain)
	c.slowUp = spread(c.up)
	if least, n := leastOf(c.up); n > 0 {
		c.upLeast = min(c.upLeast, least)
	}
	c.level, c.hasLevel = r.Past.copy(&r.Past.Level, from, n, levelStep)
	_, levels := known(c.level)
	c.slowLevel = 2*levels < n
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
		case seen:
			c.border[t] = noMotor
		}
	}
}
