package regeneration

import "math"

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
	if r.awaitsRinse(now, &t) {
		return false
	}
	// Beside a leak as large as a slow rinse the drain does not tell when that is over.
	leaks := r.Watch.Running > gridLeast && r.levelKnown(now) && e.FellAt > 0
	if r.drainKnown(now) && e.DrainSeen && e.DrainOn >= e.FellAt-fallLag && !leaks {
		return !r.awaitsRefill(now, e.DrainOn, 2*t.minutes(refill)+quiet)
	}
	if t.early {
		return r.overEarly(now, &t)
	}
	return !r.awaitsRefill(now, max(e.FellAt, e.Begin), r.patience(&t))
}

// awaitsRinse says whether the drain has carried a backwash, and nothing since,
// while the programme goes on: behind a plugged injector or a drain line that is
// all but shut no rinse follows for an hour, and then the last one.
func (r *Recogniser) awaitsRinse(now int64, t *template) bool {
	e := &r.Episode
	if e.Cue != byDrain || !e.DrainSeen || e.Plateaus != 1 || e.FellAt > 0 || e.RoseAt > e.Begin || !r.drainKnown(now) {
		return false
	}
	if !r.immediate() && math.Abs(r.offHour(float64(e.Begin))) > nearHour {
		return false
	}
	long := e.First.N / t.minutes(backwash)
	return long > shortRinse && long < 2 && float64(now-e.Begin) < t.total()+quiet
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
