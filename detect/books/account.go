package books

import (
	"math"

	"brinebell/detect/regeneration"
	"brinebell/detect/resin"
)

// brineOf is the brine drawn: as recognised, else from the levels.
func (l *Ledger) brineOf(rec *regeneration.Record) float64 {
	if !math.IsNaN(rec.BrineLitres) {
		return rec.BrineLitres
	}
	top := l.Salt.Top
	if !l.seesSalt() {
		top = math.NaN()
	}
	return l.tank.Volume(rec.LevelStart, top) - l.tank.Volume(rec.LevelLowest, top)
}

// account books the regeneration's salt, water and capacity.
func (l *Ledger) account(rec *regeneration.Record, e *Entry, want programme) {
	kg := math.Max(0, float64(e.Brine.Value)) * l.perLitre()
	if e.SaltAssumed = math.IsNaN(kg); e.SaltAssumed {
		kg = l.home.Softener.SaltDose
	}
	e.Salt = Number(kg)
	start, end := rec.Start.Unix(), rec.End.Unix()
	l.takeSalt(kg, e.SaltAssumed, start, end)
	l.rinse(rec, e, want, kg)
	l.settle(e, kg, start, end)
}

// rinse takes the regeneration's own water out of what was booked as use.
func (l *Ledger) rinse(rec *regeneration.Record, e *Entry, want programme, kg float64) {
	water := rinseWater(rec, e, want)
	seen, minutes := l.Water.between(rec.Start.Unix(), rec.End.Unix(), l.Last)
	e.HouseholdUse = Unknown()
	day := l.Water.day(l.dayOf(rec.Start))
	meter := l.home.Meters.Service
	blind := meter != nil && meter.Downstream
	if minutes > 0 {
		use := seen
		if !blind {
			use = max(0, seen-water)
		}
		e.HouseholdUse = Number(use)
		if day != nil {
			day.Through -= seen - use
		}
	}
	if day == nil {
		return
	}
	if blind && day.PastMinutes > 0 {
		day.Past -= water
	}
	day.Rinse += water
	day.Salt += kg
	day.Regenerations++
	if e.SaltAssumed {
		day.Assumed++
	}
}

// rinseWater is the litres a regeneration took from the pipe: what ran down the
// drain less the brine that came from the tank, and what was put back there.
// What was not seen is taken from the programme.
func rinseWater(rec *regeneration.Record, e *Entry, want programme) float64 {
	drain, refill, drawn := rec.DrainLitres, rec.RefillLitres, float64(e.Brine.Value)
	if math.IsNaN(drain) {
		drain = want.drain * min(1, ratio(rec.End.Sub(rec.Start).Minutes(), want.minutes))
	}
	if math.IsNaN(refill) {
		refill = want.refill
	}
	if math.IsNaN(drawn) {
		drawn = want.brine
	}
	return max(0, drain+refill-drawn)
}

// settle closes the bed's account and opens the next.
func (l *Ledger) settle(e *Entry, kg float64, start, end int64) {
	b := &l.Bed
	e.DaysSince, e.Litres, e.Removed = Unknown(), Unknown(), Unknown()
	hardness := l.RawHardness()
	during, _ := l.Water.between(start, l.Last+60, l.Last)
	if b.LastStart != 0 {
		e.DaysSince = Number(float64(start-b.LastStart) / 86400)
		if b.Known > 0 {
			b.Litres = max(0, b.Litres-during)
			b.Removed = max(0, b.Removed-resin.Equivalents(during, hardness))
			e.Litres, e.Removed = Number(b.Litres), Number(resin.Grams(b.Removed))
		}
	}
	left := b.left(l.Last)
	e.LeftBefore = Number(resin.Grams(left))
	since, minutes := l.Water.between(end, l.Last+60, l.Last)
	b.regenerate(l.home.Softener, kg, left, start, end, since, minutes, hardness)
	b.Assumed = e.SaltAssumed
	e.Restored = Number(resin.Grams(b.Restored))
}

// learn lets a regeneration in order teach the past.
func (l *Ledger) learn(rec *regeneration.Record, e *Entry, want programme) {
	if rec.Ending != regeneration.Completed || rec.Confidence < teachable || len(e.Missing) > 0 {
		return
	}
	p := &l.Past
	p.Brine.Learn(float64(e.Brine.Value), want.brine)
	p.Refill.Learn(float64(e.Refill.Value), want.refill)
	p.Drain.Learn(float64(e.Drain.Value), want.drain)
	p.Minutes.Learn(float64(e.Minutes.Value), want.minutes)
}
