package regeneration

import (
	"math"

	"brinebell/detect"
)

// cue is what made an episode worth a closer look.
type cue uint8

const (
	byDrain cue = iota
	byLevel
	byFlow
)

// Episode is a stretch of time that may be a regeneration, followed until it
// can be judged as a whole.
type Episode struct {
	Open      bool
	Cue       cue
	From      int64 // first minute of the scene
	Begin     int64 // at which it was noticed
	DrainOn   int64 // last minute with more than the ordinary down the drain
	DrainSeen bool
	FellAt    int64 // last minute at which the level was seen to fall; 0: never
	RoseAt    int64
	MovedAt   int64
	Plateaus  int // stretches of steady drain flow so far
	Plateau   Plateau
	First     Plateau // the first one, once it is over
	Odd       int     // minutes in a row off the plateau
	High, Low float64
}

// Plateau is a stretch of steady drain flow; Mean is what it carries beyond the
// running flow, L/min.
type Plateau struct {
	Since int64
	Mean  float64
	N     float64
}

// lead is how many minutes before the cue a scene starts.
const lead = 12

// begin opens an episode when something shows.
func (r *Recogniser) begin() {
	now := r.Past.Next - 1
	switch {
	case r.Watch.drainUp(r.pulse()):
		r.open(byDrain, now-r.drainLead(now))
	case now < r.Hold || !r.levelKnown(now):
	case r.Watch.Moved.falls():
		r.open(byLevel, now-levelFarEnd-15)
	case r.Watch.Moved.rises():
		r.open(byLevel, now-r.riseLead())
	}
	if !r.Episode.Open && r.flowCue(now) {
		r.open(byFlow, now-int64(r.Watch.UpRun)-r.drainLead(now))
	}
}

// drainLead reaches back over an early refill where a sensor may have seen it.
func (r *Recogniser) drainLead(now int64) int64 {
	untaught := r.levelKnown(now) && r.Habit.EarlyN < learntEnough
	if untaught || r.earlyRefill() && (r.levelKnown(now) || r.upKnown(now)) {
		return lead + 2*pauseMinutes
	}
	return lead
}

// riseLead reaches back over the whole cycle: where the refill comes last, a
// rise without a fall may be all that shows of a regeneration that drew nothing.
func (r *Recogniser) riseLead() int64 {
	if r.earlyRefill() {
		return levelFarEnd + 15
	}
	t := newTemplate(&r.home.Softener, &r.Habit, false)
	return int64(1.3*t.total()) + levelFarEnd
}

// freshFor is for how many minutes a sensor's last word counts.
const freshFor = 20

func (r *Recogniser) levelKnown(now int64) bool { return now-r.Watch.LevelAt < freshFor }
func (r *Recogniser) drainKnown(now int64) bool { return now-r.Watch.DrainAt < freshFor }
func (r *Recogniser) upKnown(now int64) bool    { return now-r.Watch.UpAt < freshFor }

// Without drain and level, water that has run upstream for so many minutes on
// end is looked at: fewer about the hour of regeneration.
const (
	longRun  = 25
	clockRun = 8
	nearHour = 25
)

func (r *Recogniser) flowCue(now int64) bool {
	if r.drainKnown(now) || r.levelKnown(now) {
		return false
	}
	run := r.Watch.UpRun
	return run >= longRun || run >= clockRun && math.Abs(r.offHour(float64(now-int64(run)))) < nearHour
}

// open starts an episode whose scene begins at from, but not before the last
// regeneration's end.
func (r *Recogniser) open(c cue, from int64) {
	now := r.Past.Next - 1
	r.Episode = Episode{Open: true, Cue: c, From: max(from, r.Last+1, r.Past.Next-span), Begin: now,
		Low: math.Inf(1)}
	r.mark(now)
}

// follow watches an open episode and judges it when it is over.
func (r *Recogniser) follow() *Record {
	now := r.Past.Next - 1
	r.mark(now)
	switch {
	case now-r.Episode.Begin >= r.limit() || now-r.Episode.From >= span-20:
		return r.finish(true)
	case r.runsOn(now):
		r.close(true)
	case r.over(now):
		return r.finish(false)
	}
	return nil
}

// runsOn says that the drain has carried one steady flow for longer than any
// phase lasts, with nothing before it: it leaks.
func (r *Recogniser) runsOn(now int64) bool {
	e := &r.Episode
	if e.Cue != byDrain || e.Plateaus > 0 || e.FellAt > 0 || !e.DrainSeen {
		return false
	}
	t := newTemplate(&r.home.Softener, &r.Habit, false)
	return float64(now-e.Begin) > 2.5*max(t.minutes(draw)+t.minutes(slow), t.minutes(backwash))
}

// mark notes what the newest minute adds.
func (r *Recogniser) mark(now int64) {
	e := &r.Episode
	if r.Watch.drainUp(r.pulse()) && r.drainKnown(now) {
		e.DrainOn, e.DrainSeen = now, true
	}
	if r.Watch.DrainAt == now {
		e.markPlateau(now, max(r.Watch.DrainNow-r.Watch.Running, 0), r.pulse())
	}
	m := &r.Watch.Moved
	if r.Watch.LevelAt != now {
		return
	}
	if m.falls() && m.Firm < -2 {
		e.FellAt = now
	}
	if m.moving() {
		e.MovedAt = now
		if m.Recent > 0 {
			e.RoseAt = now
		} else {
			e.FellAt = now
		}
	}
}

// A drain's flow, smoothed over three minutes, is on its plateau while it stays
// so near; it has left it after so many minutes, and the plateau counts when it
// lasted at least so long.
const (
	plateauShare = 0.25
	plateauNear  = 0.2 // L/min
	plateauLeft  = 3
	plateauLeast = 4
)

// markPlateau follows the drain's steady stretches.
func (e *Episode) markPlateau(now int64, x, pulse float64) {
	p := &e.Plateau
	if p.N > 0 && math.Abs(x-p.Mean) <= plateauShare*p.Mean+plateauNear+pulse/3 {
		p.N++
		p.Mean += (x - p.Mean) / min(p.N, 30)
		e.Odd = 0
		return
	}
	if e.Odd++; e.Odd < plateauLeft && p.N > 0 {
		return
	}
	if p.N >= plateauLeast {
		if e.Plateaus++; e.Plateaus == 1 {
			e.First = *p
		}
		e.High, e.Low = max(e.High, p.Mean), min(e.Low, p.Mean)
	}
	*p = Plateau{now, x, 1}
	e.Odd = 0
}

// limit is how many minutes an episode may last: far beyond the programme.
func (r *Recogniser) limit() int64 {
	t := newTemplate(&r.home.Softener, &r.Habit, false)
	limit := 2*t.total() + 45
	if r.earlyRefill() {
		limit += 2 * pauseMinutes
	}
	return int64(limit)
}

// earlyRefill says whether the refill comes first, by what the home has shown
// or else by its profile.
func (r *Recogniser) earlyRefill() bool {
	if r.Habit.EarlyN >= learntEnough {
		return r.Habit.Early > 0.5
	}
	s := &r.home.Softener
	return s.RefillBefore || len(s.Cycle) > 0 && s.Cycle[0].Phase == detect.Refill
}

// quiet is how many minutes nothing must happen before an episode is over.
// The level's movement is known only minutes after it ends, so it needs less.
const (
	quiet      = 9
	quietLevel = 2
)

// fallLag is by how many minutes the end of a fall may be noticed late.
const fallLag = 20

// over says whether the episode has come to its end, whatever it was.
func (r *Recogniser) over(now int64) bool {
	e := &r.Episode
	if e.Cue == byFlow {
		return r.Watch.UpQuiet >= 4
	}
	if now-max(e.DrainOn, e.Begin) < quiet || now-e.MovedAt < quietLevel {
		return false
	}
	t := newTemplate(&r.home.Softener, &r.Habit, r.earlyRefill())
	if r.drainKnown(now) && e.DrainSeen && e.DrainOn >= e.FellAt-fallLag {
		return !r.awaitsRefill(now, e.DrainOn, 2*t.minutes(refill)+quiet)
	}
	if t.early {
		return r.overEarly(now, &t)
	}
	return !r.awaitsRefill(now, max(e.FellAt, e.Begin), r.patience(&t))
}

// patience is how many minutes after the draw a refill is waited for: twice the
// rinses and more as long as only the profile tells of them.
func (r *Recogniser) patience(t *template) float64 {
	rest := t.minutes(slow) + t.minutes(fast)
	if r.Habit.Stages[slow].N >= learntEnough {
		return 1.5*rest + 15
	}
	return 2.5*rest + 20
}

// awaitsRefill says whether a refill is still to be expected: the level is
// known and has not risen since the draw, and it is not too late for it.
func (r *Recogniser) awaitsRefill(now, since int64, patience float64) bool {
	e := &r.Episode
	if r.earlyRefill() || !r.levelKnown(now) || e.FellAt == 0 && !e.DrainSeen {
		return false
	}
	if e.RoseAt > e.FellAt {
		return false
	}
	return float64(now-since) < patience
}

// overEarly is over for a home that refills first and shows no drain.
func (r *Recogniser) overEarly(now int64, t *template) bool {
	e := &r.Episode
	if e.FellAt == 0 {
		return float64(now-e.Begin) > 3*pauseMinutes+t.minutes(backwash)
	}
	return float64(now-e.FellAt) > t.minutes(slow)+t.minutes(fast)+quiet
}
