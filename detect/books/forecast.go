package books

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// bandTail is what the interval leaves out at each end: an 80 % band.
	bandTail = 0.10
	// driftShare is how far a home's mean use of the coming weeks lies from that
	// of the last four beyond what chance explains: seasons, guests, children. A
	// standard deviation of a tenth, common practice, no source. A timed control
	// does not follow the use; only its dose can drift.
	driftShare = 0.10
	timedDrift = 0.02
	// clumping is how many times the variance of sums over weeks exceeds that of
	// as many independent days, since busy days come together; what the home's
	// own weeks show outweighs it once there are more than clumpingWorth of them.
	// Common practice, no source.
	clumping      = 2.0
	clumpingWorth = 4.0
	// doseScatter is the least relative scatter of doses and intervals.
	doseScatter = 0.05
	// horizon is the most days looked ahead: a tank of salt lasts no longer.
	horizon = 5 * 365.0
	// fewDays is the least of observed days to forecast from.
	fewDays = 7
)

// Forecast is when something happens, with the band that holds it four times out
// of five. A time beyond the horizon is zero.
type Forecast struct {
	OK       bool      `json:"ok"`
	Expected time.Time `json:"expected,omitzero"`
	Early    time.Time `json:"early,omitzero"` // one in ten is before
	Late     time.Time `json:"late,omitzero"`  // one in ten is after
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
		drift := p.drift * p.rate
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
