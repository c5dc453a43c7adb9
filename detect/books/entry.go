package books

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/brine"
	"brinebell/detect/regeneration"
	"brinebell/detect/resin"
)

// Figure is one quantity of a regeneration beside what it should be.
type Figure struct {
	Value       Number `json:"value"`
	Programme   Number `json:"programme"`    // as programmed
	Usual       Number `json:"usual"`        // median of the home's own past
	Spread      Number `json:"spread"`       // robust standard deviation of that past
	OfProgramme Number `json:"of_programme"` // value / programme
	OfUsual     Number `json:"of_usual"`     // value / usual
}

// Sigmas is how many of the past's standard deviations the value lies off; NaN
// without a past.
func (f Figure) Sigmas() float64 { return float64((f.Value - f.Usual) / f.Spread) }

// Entry is one regeneration as booked.
type Entry struct {
	Start        time.Time           `json:"start"`
	End          time.Time           `json:"end"`
	Ending       regeneration.Ending `json:"ending"`
	Manual       bool                `json:"manual"`
	Confidence   float64             `json:"confidence"`
	Brine        Figure              `json:"brine_l"`
	Refill       Figure              `json:"refill_l"`
	Drain        Figure              `json:"drain_l"`
	Minutes      Figure              `json:"minutes"`
	Salt         Number              `json:"salt_kg"`         // taken out of the tank
	SaltAssumed  bool                `json:"salt_assumed"`    // nobody measured it: the programme's dose stands in
	DaysSince    Number              `json:"days_since"`      // since the one before
	Litres       Number              `json:"litres_since"`    // through the bed since the one before
	Removed      Number              `json:"removed_g"`       // hardness as CaCO3 since the one before
	LeftBefore   Number              `json:"left_before_g"`   // capacity that was left when it began, g as CaCO3
	Restored     Number              `json:"restored_g"`      // capacity of the bed that goes into service, g as CaCO3
	HouseholdUse Number              `json:"household_use_l"` // drawn while it ran, so not softened
	Missing      []detect.Phase      `json:"missing,omitempty"`
	Reasons      []Reason            `json:"reasons,omitempty"`
}

// programme is what a regeneration should be by the profile's settings.
type programme struct{ brine, refill, drain, minutes float64 }

// expects works the programme out; a refill that is not in the cycle is what
// dissolves the dose.
func (l *Ledger) expects() programme {
	s := l.home.Softener
	drain, refill := resin.ProgrammeWater(s)
	if refill <= 0 {
		refill = brine.WaterFor(s.Salt, s.SaltDose, l.Temperature)
	}
	return programme{
		brine:  s.SaltDose / l.perLitre(),
		refill: refill, drain: drain,
		minutes: s.ProgrammeLength().Minutes(),
	}
}

// Regeneration books a regeneration, whenever it is reported, and says what it
// meant. Records come in the order of their start.
func (l *Ledger) Regeneration(rec *regeneration.Record) Entry {
	l.Past.Regenerations++
	want := l.expects()
	past := &l.Past
	e := Entry{
		Start: rec.Start, End: rec.End, Ending: rec.Ending, Manual: rec.Manual, Confidence: rec.Confidence,
		Brine:   figure(l.brineOf(rec), want.brine, &past.Brine),
		Refill:  figure(rec.RefillLitres, want.refill, &past.Refill),
		Drain:   figure(rec.DrainLitres, want.drain, &past.Drain),
		Minutes: figure(rec.End.Sub(rec.Start).Minutes(), want.minutes, &past.Minutes),
	}
	e.Missing = l.missing(rec)
	e.Reasons = l.reasons(rec, &e)
	l.account(rec, &e, want)
	l.learn(rec, &e, want)
	return e
}

// figure sets a value beside the programme and the past.
func figure(v, programme float64, past *History) Figure {
	usual, spread := past.Usual()
	return Figure{
		Value: Number(v), Programme: Number(programme), Usual: Number(usual), Spread: Number(spread),
		OfProgramme: Number(ratio(v, programme)), OfUsual: Number(ratio(v, usual)),
	}
}

// ratio is a/b, NaN where b is not above zero.
func ratio(a, b float64) float64 {
	if b > 0 {
		return a / b
	}
	return math.NaN()
}

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

// teachable is the confidence below which a recognised regeneration does not
// count as the home's usual.
const teachable = 0.8
