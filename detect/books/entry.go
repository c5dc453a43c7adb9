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
	if n := len(rec.Phases); n > 0 && rec.Phases[0].Name == detect.Refill && rec.RefillLitres == rec.RefillLitres {
		want.refill *= l.swelling()
	}
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

// swelling is by how much water has grown once it is saturated brine, a factor: a
// refill that comes first is measured by the level it leads to hours later.
func (l *Ledger) swelling() float64 {
	s := l.home.Softener
	return brine.BrineFor(s.Salt, s.SaltDose, l.Temperature) / brine.WaterFor(s.Salt, s.SaltDose, l.Temperature)
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

// teachable is the confidence below which a recognised regeneration does not
// count as the home's usual.
const teachable = 0.8
