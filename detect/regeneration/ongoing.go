package regeneration

import (
	"math"
	"time"

	"brinebell/detect"
)

// Ongoing is a regeneration believed to be running now. Probability rises as
// its phases show; before the first change of flow the clock says most.
type Ongoing struct {
	Start       time.Time
	Phase       detect.Phase
	Probability float64
	ExpectedEnd time.Time
}

// The least minutes of flow down the drain, and of flow upstream, before an
// episode is spoken of.
const (
	ongoingDrain = 3
	ongoingFlow  = 8
)

// leastOngoing is the probability below which an episode is not spoken of.
const leastOngoing = 0.1

// Ongoing tells of a regeneration believed to be running at the last minute
// seen; ok is false when nothing suggests one.
func (r *Recogniser) Ongoing() (o Ongoing, ok bool) {
	e := &r.Episode
	if !e.Open {
		return Ongoing{}, false
	}
	now := r.Past.Next - 1
	if e.Cue == byDrain && now-e.Begin < ongoingDrain-1 {
		return Ongoing{}, false
	}
	if e.Cue == byDrain && now-e.DrainOn > quiet/2 && e.RoseAt < now-quiet/2 {
		return Ongoing{}, false
	}
	t := newTemplate(&r.home.Softener, &r.Habit, r.earlyRefill())
	start := r.ongoingStart(&t)
	o.Start, o.Phase = r.when(start), r.ongoingPhase(now, &t)
	o.Probability = 1 / (1 + math.Exp(-r.ongoingOdds(start, now, &t)))
	o.ExpectedEnd = r.when(start + t.total())
	return o, o.Probability >= leastOngoing
}

func (r *Recogniser) ongoingStart(t *template) float64 {
	e := &r.Episode
	switch {
	case e.Cue == byLevel && !t.early:
		return float64(e.Begin) - levelShort - t.minutes(backwash)
	case e.Cue == byFlow:
		return float64(e.From + lead)
	}
	return float64(e.Begin)
}

// ongoingOdds are the odds so far, in nats: those of weigh for what can be seen
// before the end.
func (r *Recogniser) ongoingOdds(start float64, now int64, t *template) float64 {
	e := &r.Episode
	v := priorOf[e.Cue]
	if !r.immediate() {
		switch off := math.Abs(r.offHour(start)); {
		case off <= 15:
			v += clockOn
		case off <= 75:
			v += clockBy
		default:
			v += clockOff
		}
	}
	if e.DrainSeen {
		v += r.ongoingDrainOdds(now, t)
	}
	if e.FellAt != 0 {
		v += levelDraw
	}
	if r.Watch.PowerAt >= e.Begin && r.motorSince(e.Begin-3, now) {
		v += powerTwo
	}
	return v
}

func (r *Recogniser) ongoingDrainOdds(now int64, t *template) float64 {
	e := &r.Episode
	switch {
	case e.Plateaus >= 2 && e.High > different*e.Low:
		return drainThree / 2
	case e.Plateaus >= 1:
		return drainTwo / 2
	}
	age := float64(now - e.Begin)
	if long := 2 * max(t.minutes(backwash), 5); age > long {
		return drainOne - (age-long)/long
	}
	return 0
}

// motorSince says whether the valve's motor ran in [from, to].
func (r *Recogniser) motorSince(from, to int64) bool {
	for m := from; m <= to; m++ {
		if motorRuns(r.Past.at(&r.Past.Power, m, powerStep), r.Watch.Idle) {
			return true
		}
	}
	return false
}

// ongoingPhase reads the phase off the present: the brine's movement first,
// then the drain's flow against the cycle's highs and lows.
func (r *Recogniser) ongoingPhase(now int64, t *template) detect.Phase {
	e, m := &r.Episode, &r.Watch.Moved
	if r.levelKnown(now) && m.moving() && m.Recent > 0 {
		return detect.Refill
	}
	if r.levelKnown(now) && m.moving() {
		return detect.BrineDraw
	}
	low := e.Plateau.Mean < e.High/different
	switch {
	case e.DrainSeen && e.Plateaus == 0:
		return detect.Backwash
	case e.DrainSeen && low:
		return detect.BrineDraw
	case e.DrainSeen && e.Plateaus >= 2:
		return detect.FastRinse
	}
	return r.phaseByClock(float64(now)-r.ongoingStart(t), t)
}

// phaseByClock is the phase that the programme is in after so many minutes.
func (r *Recogniser) phaseByClock(minutes float64, t *template) detect.Phase {
	for _, s := range t.steps[:t.n] {
		if minutes -= s.minutes; minutes < 0 && s.stage != pause {
			if s.stage == slow && !lists(&r.home.Softener, detect.SlowRinse) {
				return detect.BrineDraw
			}
			return phaseOf[s.stage]
		}
	}
	return detect.Refill
}
