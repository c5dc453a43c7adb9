package regeneration

import "math"

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
