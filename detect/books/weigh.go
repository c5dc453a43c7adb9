package books

import (
	"math"

	"brinebell/detect/brine"
)

// massAt is the pellets up to a top, without what is dissolved.
func (l *Ledger) massAt(top float64) float64 {
	return l.tank.Mass(l.home.Softener.Salt, top, math.NaN(), 0)
}

// perLitre is the kg of salt in a litre of the home's saturated brine.
func (l *Ledger) perLitre() float64 { return brine.SaturatedSalt(l.home.Softener.Salt, l.Temperature) }

// brim is the kg of salt in a tank as full as people fill it.
func (l *Ledger) brim() float64 { return l.massAt(brimShare * l.home.BrineTank.Height) }

// seesSalt says whether a salt sensor has spoken lately.
func (l *Ledger) seesSalt() bool { return l.Salt.Top == l.Salt.Top && l.Last-l.Salt.TopAt <= topStale }

// weigh is the salt in kg and its standard deviation by the salt sensor.
func (l *Ledger) weigh() (kg, spread float64) {
	top := l.Salt.Top
	kg = l.tank.Mass(l.home.Softener.Salt, top, l.Salt.Level, l.perLitre())
	perMM := (l.massAt(top+topError) - l.massAt(top)) / topError
	return kg, math.Hypot(bulkError*l.massAt(top), topError*perMM)
}

// salt is the best estimate of the salt in the tank in kg, its standard
// deviation, and what it rests on; NaN when nobody knows.
func (l *Ledger) salt() (kg, spread float64, by SaltBasis) {
	if l.seesSalt() {
		kg, spread = l.weigh()
		return kg, spread, BySensor
	}
	s := &l.Salt
	if s.Mass != s.Mass {
		return s.Mass, s.Mass, ByNothing
	}
	return s.Mass, math.Hypot(s.Spread, drawError*s.Drawn), ByReckoning
}

// SaltBasis says what the books know of the salt from.
type SaltBasis string
