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
	up := r.Watch.drainUp(r.pulse()) || e.DrainSeen && r.Watch.drainStays(r.pulse())
	if up && r.drainKnown(now) {
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
