package books

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// How well salt is known. Common practice, no source, but for the first, which
// is what a bed's bulk is stated to be worth in package brine.
const (
	bulkError    = 0.12 // of pellets weighed by their height
	topError     = 10.0 // mm of a salt sensor over an uneven bed
	drawError    = 0.10 // of salt reckoned from brine: pores and well are as stated at best
	bagError     = 0.02 // of bags
	countError   = 0.05 // of what somebody says is in the tank,
	countStep    = 12.5 // kg: who counts in bags of 25 kg is good to half of one
	assumedError = 0.20 // of a regeneration's salt that nobody measured
	brimShare    = 0.90 // of the tank's height that people fill with salt
)

// What tells a filling from noise.
const (
	fillRise     = 40.0    // mm that the salt must stand higher
	fillSeconds  = 10 * 60 // for this long
	topSmoothing = 60.0    // minutes over which the salt's top is averaged
	topStale     = 3 * 86400
	brineRise    = 15.0 // mm that the brine must rise
	brineSeconds = 5 * 60
	brineWait    = minutesKept * 60 // until no regeneration can still explain it
	brineMargin  = 15 * 60          // about a regeneration, for its refill
)

// SaltBook is the salt in the tank.
type SaltBook struct {
	Mass       float64 // kg reckoned in the tank; NaN when nobody ever said
	Spread     float64 // kg, standard deviation of Mass apart from Drawn's
	Drawn      float64 // kg taken out since Mass was last known
	In, Out    float64 // kg filled in and taken out, in all, as far as known
	Top        float64 // smoothed top of the salt, mm; NaN without a sensor
	TopAt      int64   // Unix second of its last reading
	AboveSince int64   // since when the sensor shows much more; 0: it does not
	Level      float64 // brine level as last measured, mm; NaN before
	Levels     [4]float64
	LevelsAt   [4]int64
	RiseAt     int64 // a sudden rise of the brine that nothing explains yet; 0 none
	Hints      int   // rises that nothing ever explained: somebody may have filled salt
	FilledAt   int64 // last filling reported or seen, Unix second; 0 none
}

func newSaltBook() SaltBook {
	nan := math.NaN()
	return SaltBook{Mass: nan, Top: nan, Level: nan, Levels: [4]float64{nan, nan, nan, nan}}
}

// watchSalt follows the salt's top and the brine.
func (l *Ledger) watchSalt(m *series.Minute, at int64) {
	if v, ok := m.Get(detect.SaltLevel); ok {
		l.seeTop(v, at)
	}
	s := &l.Salt
	if v, ok := m.Get(detect.BrineLevel); ok {
		if v-s.Levels[3] >= brineRise && at-s.LevelsAt[3] <= brineSeconds && s.RiseAt == 0 {
			s.RiseAt = at
		}
		copy(s.Levels[1:], s.Levels[:3])
		copy(s.LevelsAt[1:], s.LevelsAt[:3])
		s.Levels[0], s.LevelsAt[0], s.Level = v, at, v
	}
	if s.RiseAt != 0 && at-s.RiseAt > brineWait {
		s.RiseAt = 0
		l.suspectFilling()
	}
}

// seeTop takes one reading of the salt sensor. A top that stays much higher is a
// filling; anything else is averaged.
func (l *Ledger) seeTop(v float64, at int64) {
	s := &l.Salt
	switch {
	case s.Top != s.Top:
		s.Top = v
	case v-s.Top < fillRise:
		s.AboveSince = 0
		s.Top += (v - s.Top) * min(1, float64(at-s.TopAt)/60/topSmoothing)
	case s.AboveSince == 0:
		s.AboveSince = at
		return // the average waits for the verdict
	case at-s.AboveSince >= fillSeconds:
		s.In += l.massAt(v) - l.massAt(s.Top)
		s.Top, s.AboveSince, s.FilledAt = v, 0, at
	default:
		return
	}
	s.TopAt = at
}

// suspectFilling takes note that salt may have been filled in, nobody says how
// much: anything from nothing to the brim.
func (l *Ledger) suspectFilling() {
	s := &l.Salt
	s.Hints++
	if room := l.brim() - s.Mass; room > 0 {
		s.Mass += room / 2
		s.Spread = math.Hypot(s.Spread, room/math.Sqrt(12))
	}
}

// Filled books kg of salt that somebody says they filled in. Where the tank's
// content was not known, it is taken as anything up to what then had room.
func (l *Ledger) Filled(at time.Time, kg float64) {
	s := &l.Salt
	if s.Mass != s.Mass {
		room := max(0, l.brim()-kg)
		s.Mass, s.Spread, s.Drawn = room/2, room/math.Sqrt(12), 0
	}
	s.Mass += kg
	s.In += kg
	s.Spread = math.Hypot(s.Spread, bagError*kg)
	s.RiseAt, s.FilledAt = 0, at.Unix()
}

// Counted books that somebody says the tank now holds kg of salt in all.
func (l *Ledger) Counted(at time.Time, kg float64) {
	s := &l.Salt
	s.Mass, s.Spread, s.Drawn = kg, math.Hypot(countError*kg, countStep/math.Sqrt(12)), 0
	s.RiseAt, s.FilledAt = 0, at.Unix()
}

// takeSalt books kg taken out by a regeneration, assumed when nobody measured
// it.
func (l *Ledger) takeSalt(kg float64, assumed bool, start, end int64) {
	s := &l.Salt
	if s.RiseAt >= start-brineMargin && s.RiseAt <= end+brineMargin {
		s.RiseAt = 0 // that was the refill
	}
	s.Out += kg
	if l.seesSalt() { // keep the reckoning at hand for the day the sensor falls silent
		s.Mass, s.Spread = l.weigh()
		s.Drawn = 0
		return
	}
	s.Mass = max(0, s.Mass-kg)
	if assumed {
		s.Spread = math.Hypot(s.Spread, assumedError*kg)
	} else {
		s.Drawn += kg
	}
}

// What the salt is known from.
const (
	BySensor    SaltBasis = "sensor"    // a sensor over the salt
	ByReckoning SaltBasis = "reckoning" // what was filled in less what was drawn
	ByNothing   SaltBasis = "unknown"
)
