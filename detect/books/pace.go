package books

import (
	"time"

	"gonum.org/v1/gonum/stat"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// pace is how fast salt is used up.
type pace struct {
	rate     float64 // kg a day
	variance float64 // kg2 a day, of sums over many days
	days     float64 // the rate was taken over
	freedom  float64 // degrees of freedom of the variance
	phase    float64 // share of the next dose already earned since the last
	drift    float64 // of the rate, relative
}

// pace takes the rate from the water used where that is known, else from the
// regenerations themselves, else from a timed control's settings.
func (l *Ledger) pace() (pace, bool) {
	if p, ok := l.waterPace(); ok {
		return p, true
	}
	if p, ok := l.dosePace(); ok {
		return p, true
	}
	return l.timedPace()
}

// timedPace is that of a timed control whose regenerations are too few to count:
// a dose each interval, as set. Unknown before one was seen.
func (l *Ledger) timedPace() (pace, bool) {
	s := l.home.Softener
	if s.Control != detect.Timed || s.DaysOverride <= 0 || l.Bed.LastStart == 0 {
		return pace{}, false
	}
	interval, dose := float64(s.DaysOverride), l.dose()
	scatter := doseScatter * dose
	return pace{
		rate: dose / interval, variance: scatter * scatter / interval, days: interval, freedom: clumpingWorth,
		phase: min(1, float64(l.Day-l.lastRegenerationDay())/interval), drift: timedDrift,
	}, true
}

// saltPerLitre is the kg of salt that a litre through the softener costs at this
// home: as booked between the first and the last regeneration in view, else as
// set.
func (l *Ledger) saltPerLitre() float64 {
	if c := l.cycles(daysKept); c.doses >= 3 && c.through > 0 {
		return c.salt / c.through
	}
	s := l.home.Softener
	usable := s.Capacity * s.Resin * (1 - s.Reserve)
	return s.SaltDose * resin.Equivalents(1, l.RawHardness()) / usable
}

// cycles is whole cycles of service: the days from one regeneration to another,
// the water used in them, and the salt of the regenerations that ended them.
type cycles struct {
	days    float64
	seen    float64 // of them with known water
	through float64 // L, scaled up for days not seen
	salt    float64 // kg
	doses   int
}

// cycles sums the whole cycles of the last span days, today not among them.
// Whole ones, because salt goes by the dose: any other span holds a part of a
// dose too much or too little.
func (l *Ledger) cycles(span int32) (c cycles) {
	var through, seen, days float64 // since the last regeneration met
	open := false
	for date := l.Day - span; date < l.Day; date++ {
		d := l.Water.day(date)
		if d != nil && d.Regenerations > 0 {
			if open {
				c.through, c.seen, c.days = c.through+through, c.seen+seen, c.days+days
				c.salt, c.doses = c.salt+d.Salt, c.doses+int(d.Regenerations)
			}
			open, through, seen, days = true, 0, 0, 0
		}
		if open && d != nil && d.full() {
			through, seen = through+d.Through, seen+1
		}
		days++
	}
	c.through *= c.days / c.seen // NaN when no day was seen
	return c
}

func (l *Ledger) lastRegenerationDay() int32 {
	return l.dayOf(time.Unix(l.Bed.LastStart, 0))
}

// waterPace counts salt as the water earns it: a smooth measure, known by the
// day. Its spread is that from week to week, leaning on that from day to day while
// the weeks are few.
func (l *Ledger) waterPace() (pace, bool) {
	if l.home.Softener.Control == detect.Timed {
		return pace{}, false
	}
	var days []float64
	for date := l.Day - usualSpan; date < l.Day; date++ {
		if d := l.Water.day(date); d != nil && d.full() {
			days = append(days, d.Through)
		}
	}
	if len(days) < fewDays {
		return pace{}, false
	}
	per := l.saltPerLitre()
	mean, variance := stat.MeanVariance(days, nil)
	variance, freedom := clumping*variance, clumpingWorth
	weeks := l.weekSums(l.Day, func(d *Day) (float64, bool) { return d.Through, d.full() })
	if n := float64(len(weeks) - 1); n > 0 {
		variance = (clumpingWorth*variance + n*stat.Variance(weeks, nil)/7) / (clumpingWorth + n)
		freedom += n
	}
	p := pace{rate: mean * per, variance: variance * per * per, days: float64(len(days)), freedom: freedom, drift: driftShare}
	p.phase = min(1, l.Bed.Litres*per/l.dose())
	if most := float64(l.home.Softener.DaysOverride); most > 0 && p.rate < l.dose()/most {
		p.rate = l.dose() / most // a home that uses little regenerates by the calendar
		if l.Bed.LastStart != 0 {
			p.phase = max(p.phase, min(1, float64(l.Day-l.lastRegenerationDay())/most))
		}
	}
	return p, p.rate > 0
}

// dosePace counts salt by the doses taken: a renewal process, whose sums over t
// days have the variance t dose² Var(interval) / E(interval)³.
func (l *Ledger) dosePace() (pace, bool) {
	var intervals []float64
	salt, last := 0.0, int32(-1)
	for date := max(l.Day-daysKept+1, l.openedOn()); date <= l.Day; date++ {
		d := l.Water.day(date)
		if d == nil || d.Regenerations == 0 {
			continue
		}
		if last >= 0 {
			intervals = append(intervals, float64(date-last))
			salt += d.Salt
		}
		last = date
	}
	if len(intervals) < 3 {
		return pace{}, false
	}
	mean, variance := stat.MeanVariance(intervals, nil)
	n := float64(len(intervals))
	dose := salt / n
	variance = max(variance, doseScatter*doseScatter*mean*mean)
	drift := driftShare
	if l.home.Softener.Control == detect.Timed {
		drift = timedDrift
	}
	return pace{
		rate: dose / mean, variance: dose * dose * variance / (mean * mean * mean),
		days: mean * n, freedom: n - 1,
		phase: min(1, float64(l.Day-last)/mean), drift: drift,
	}, true
}

// dose is what one regeneration takes: usually, else as set.
func (l *Ledger) dose() float64 {
	if litres, _ := l.Past.Brine.Usual(); litres > 0 {
		return litres * l.perLitre()
	}
	return l.home.Softener.SaltDose
}
