package regeneration

import "math"

// Odds is what each witness says for a regeneration against anything else, in
// nats. Each row of the tables below is a stated judgement of how much more
// often the observation comes with a regeneration than without; no single
// witness is let far beyond certainty, since the tables themselves may be wrong.
type Odds struct {
	Prior, Drain, Level, Power, Up, Clock float64
}

// How often an episode of each cue is a regeneration before its shape is looked
// at: common practice, no source.
var priorOf = map[cue]float64{byDrain: -0.5, byLevel: -1.5, byFlow: -4}

// The tables of witnesses.
const (
	drainThree  = 8.0  // high, low, high (or as many changes) in order
	drainTwo    = 3.5  // two different flows in order
	drainOne    = -1.5 // one flow: a leak looks the same
	drainNone   = -3.0 // the drain is watched and stayed dry
	drainRagged = -5.0 // flows that are not steady within the stages

	levelDraw    = 4.0  // a ramp down of a draw's length
	levelStep1   = -4.0 // down in a jump: the sensor or a hand
	levelRefill  = 3.5  // and a ramp up that gives back what was drawn
	levelRise    = 0.5  // a ramp up alone
	levelUsual   = 2.0  // the same, as far up as this home's refills go
	levelOdd     = -1.0 // the same, where the home's refills go elsewhere
	levelJump    = -2.0 // up in a jump: salt or water was put in
	levelNoRise  = -1.5 // a draw, but no refill where one should have come
	levelStill   = -3.0 // the level is watched and did not move
	levelOneSide = -1.0 // a refill of another size than the draw

	powerThree = 4.0
	powerTwo   = 2.5
	powerOne   = 0.0
	powerNone  = -3.0

	upThree = 3.5
	upTwo   = 1.0
	upOne   = -1.0
	upSlow  = -4.0 // sampled so slowly that taps run together
	upMost  = 8.0  // however well it fits, it may be taps
	upShort = -3.0 // the drain ran and the meter before it did not

	clockOn  = 3.0  // within a quarter of an hour of the set or usual hour
	clockBy  = 1.0  // within an hour and a quarter, as after a change of clocks
	clockOff = -1.5 // at another hour, by hand
	flowOff  = -3.0 // the same where only flow upstream speaks, as gardens are watered at any hour
)

// Sum is the log odds in all.
func (w Odds) Sum() float64 { return w.Prior + w.Drain + w.Level + w.Power + w.Up + w.Clock }

// surest bounds the odds of a record: something nobody thought of may look like
// a regeneration once in a thousand times.
const surest = 6.9

func (w Odds) confidence() float64 { return 1 / (1 + math.Exp(-min(w.Sum(), surest))) }

// weigh asks every witness about the path.
func (r *Recogniser) weigh(c *scene, p *path, t *template) Odds {
	if !p.holdsDraw() || math.IsInf(p.score, -1) {
		return Odds{Prior: math.Inf(-1)}
	}
	w := Odds{Prior: priorOf[r.Episode.Cue], Clock: r.weighClock(c, p)}
	if c.hasDrain {
		w.Drain = weighDrain(c, p, t)
	}
	if c.dry {
		w.Drain = drainNone
	}
	if c.hasLevel {
		w.Level = weighLevel(c, p, &r.Habit)
	}
	if c.hasPower {
		w.Power = weighPower(c, p)
	}
	if c.hasUp {
		w.Up = r.weighUp(c, p, t)
	}
	if c.from-r.Last < soonAfter {
		w.Prior += tooSoon
	}
	if max(w.Drain, w.Level, w.Up) < leastWitness {
		w.Prior += unwitnessed
	}
	return w
}

// Two regenerations within so many minutes of each other are most likely one,
// read in two parts.
const (
	soonAfter = 60
	tooSoon   = -4.0
)

// The clock and the motor only support: where neither water nor brine speaks
// for a regeneration, there was none to put on record.
const (
	leastWitness = 0.4
	unwitnessed  = -5.0
)

func (r *Recogniser) weighClock(c *scene, p *path) float64 {
	if r.immediate() {
		return 0
	}
	off := math.Abs(r.offHour(float64(c.from) + float64(p.begin())))
	slack := 0.0
	if !c.hasDrain && !c.hasUp {
		slack = 10 // the level shows the start only through the draw
	}
	switch {
	case off <= 15+slack:
		return clockOn
	case off <= 75+slack:
		return clockBy
	}
	if !c.hasDrain && !c.hasLevel {
		return flowOff
	}
	return clockOff
}
