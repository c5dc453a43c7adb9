package books

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"brinebell/detect"
	"brinebell/detect/resin"
)

const (
	// bandTail is what the interval leaves out at each end: an 80 % band.
	bandTail = 0.10
	// driftShare is how far a home's mean use of the coming weeks lies from that
	// of the last four beyond what chance explains: seasons, guests, children. A
	// standard deviation of a tenth, common practice, no source.
	driftShare = 0.10
	// horizon is the most days looked ahead: a tank of salt lasts no longer.
	horizon = 5 * 365.0
	// fewDays is the least of observed days to forecast from.
	fewDays = 7
)

// Forecast is when something happens, with the band that holds it four times out
// of five. A time beyond the horizon is zero.
type Forecast struct {
	OK       bool      `json:"ok"`
	Expected time.Time `json:"expected"`
	Early    time.Time `json:"early"` // one in ten is before
	Late     time.Time `json:"late"`  // one in ten is after
}

// pace is how fast salt is used up.
type pace struct {
	rate     float64 // kg a day
	variance float64 // kg2 a day, of sums over many days
	days     float64 // the rate was taken over
	freedom  float64 // degrees of freedom of the variance
	phase    float64 // share of the next dose already earned by the water used since
}

// pace takes the rate from the water used where that is known, else from the
// regenerations themselves.
func (l *Ledger) pace() (pace, bool) {
	if p, ok := l.waterPace(); ok {
		return p, true
	}
	return l.dosePace()
}

// saltPerLitre is the kg of salt that a litre through the softener costs at this
// home: as booked between the first and the last regeneration in view, else as
// set.
func (l *Ledger) saltPerLitre() float64 {
	salt, through, n := 0.0, 0.0, 0
	open := false
	for date := l.Day - daysKept + 1; date <= l.Day; date++ {
		d := l.Water.day(date)
		if d == nil {
			continue
		}
		if d.Regenerations > 0 {
			if open {
				salt, n = salt+d.Salt, n+int(d.Regenerations)
			}
			open = true
		}
		if open && date < l.lastRegenerationDay() {
			through += d.Through
		}
	}
	if n >= 3 && through > 0 {
		return salt / through
	}
	s := l.home.Softener
	usable := s.Capacity * s.Resin * (1 - s.Reserve)
	return s.SaltDose * resin.Equivalents(1, l.RawHardness()) / usable
}

func (l *Ledger) lastRegenerationDay() int32 {
	return l.dayOf(time.Unix(l.Bed.LastStart, 0))
}

// waterPace counts salt as the water earns it: a smooth measure, known by the
// day. Its spread is the larger of that from day to day and that from week to
// week, since busy days come together.
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
	freedom := float64(len(days) - 1)
	weeks := l.weekSums(func(d *Day) (float64, bool) { return d.Through, d.full() })
	if len(weeks) >= 3 {
		if v := stat.Variance(weeks, nil) / 7; v > variance {
			variance, freedom = v, float64(len(weeks)-1)
		}
	}
	p := pace{rate: mean * per, variance: variance * per * per, days: float64(len(days)), freedom: freedom}
	p.phase = min(1, l.Bed.Litres*per/l.dose())
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
	variance = max(variance, 1.0/6) // whole days hide a sixth
	return pace{
		rate: dose / mean, variance: dose * dose * variance / (mean * mean * mean),
		days: mean * n, freedom: n - 1,
		phase: min(1, float64(l.Day-last)/mean),
	}, true
}

// dose is what one regeneration takes: usually, else as set.
func (l *Ledger) dose() float64 {
	if litres, _ := l.Past.Brine.Usual(); litres > 0 {
		return litres * l.perLitre()
	}
	return l.home.Softener.SaltDose
}

// RunsOut is when the tank no longer holds one dose for the regeneration that
// comes due.
func (l *Ledger) RunsOut() Forecast {
	kg, spread, by := l.salt()
	p, ok := l.pace()
	if by == ByNothing || !ok || l.Last == 0 {
		return Forecast{}
	}
	dose := l.dose()
	// Doses go whole: on average half of one is left that serves no regeneration,
	// and the regeneration that misses it still has to come due.
	need := kg + (0.5-p.phase)*dose
	still := spread*spread + dose*dose/12
	z := distuv.StudentsT{Sigma: 1, Nu: max(2, p.freedom)}.Quantile(1 - bandTail)
	return Forecast{
		OK:       true,
		Expected: l.after(p.reach(need, still, 0)),
		Early:    l.after(p.reach(need, still, -z)),
		Late:     l.after(p.reach(need, still, z)),
	}
}

// reach is the days until the salt earned is need kg plus z standard deviations:
// of need itself (variance still), of the use to come, of the rate as far as the
// days watched fix it, and of its drift. It grows with z. +Inf beyond the
// horizon, 0 when it is reached already.
func (p pace) reach(need, still, z float64) float64 {
	short := func(t float64) bool {
		drift := driftShare * p.rate
		variance := still + p.variance*t + (p.variance/p.days+drift*drift)*t*t
		return p.rate*t-need < z*math.Sqrt(variance)
	}
	if !short(0) {
		return 0
	}
	if short(horizon) {
		return math.Inf(1)
	}
	low, high := 0.0, horizon
	for range 40 { // to a millisecond
		if middle := (low + high) / 2; short(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// after is the time days after the last minute; zero for +Inf.
func (l *Ledger) after(days float64) time.Time {
	if math.IsInf(days, 1) {
		return time.Time{}
	}
	return time.Unix(l.Last, 0).Add(time.Duration(days * 24 * float64(time.Hour))).In(l.home.Location)
}
