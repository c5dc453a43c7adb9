package simulator

import (
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
)

// saltRun is the salt of a home in which it is to run out: little enough at the
// beginning that it falls all the way, scooped in when it would be gone too
// early, and not brought again until the fault's end. The truth begins when the
// last grain has dissolved.
type saltRun struct {
	planned, end time.Time // zero without such a fault
	dose         float64
	dry          time.Time // when the last grain dissolved
}

func newSaltRun(home detect.Home, faults []fault.Fault) saltRun {
	for _, f := range faults {
		if f.Cause == detect.SaltEmpty {
			return saltRun{planned: f.Start, end: f.End, dose: home.Softener.SaltDose}
		}
	}
	return saltRun{}
}

// first is the salt to begin with, kg; 0 leaves it to the plant. It is what the
// household's expected regenerations use until the salt is to run out.
func (s *saltRun) first(home detect.Home, start time.Time) float64 {
	if s.planned.IsZero() {
		return 0
	}
	const usual, early = 210.0, 0.8 // L a head and day; and rather too little than too much
	daily := max(1, home.Occupants) * usual * home.Water.Hardness / 1000 / detect.EquivalentCaCO3
	days := home.Softener.Capacity * home.Softener.Resin / daily
	if o := float64(home.Softener.DaysOverride); o > 0 {
		days = min(days, o)
	}
	n := s.planned.Sub(start).Hours() / 24 / max(days, 1)
	return max(1.5, early*n) * s.dose
}

// scoop is the kg that keep the salt from running out before its time, given
// what is left; dry is when nothing more than dust is.
func (s *saltRun) scoop(left float64, now time.Time) float64 {
	const dust = 0.05 // of a dose
	switch {
	case !now.Before(s.end):
		return 0
	case now.Before(s.planned):
		if left < 1.2*s.dose {
			return s.dose
		}
	case s.dry.IsZero() && left < dust*s.dose:
		s.dry = now
	}
	return 0
}

// withholds says whether the household pours no bags at an instant.
func (s *saltRun) withholds(now time.Time) bool { return now.Before(s.end) }

// ranOut is when the salt ran out: as planned while that is to come, and the
// end of it all when the run ended before.
func (s *saltRun) ranOut(over bool) time.Time {
	switch {
	case !s.dry.IsZero():
		return s.dry
	case over:
		return s.end
	}
	return s.planned
}
