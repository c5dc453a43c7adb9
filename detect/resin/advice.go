package resin

import (
	"math"

	"brinebell/detect"
)

// Use is the water a home draws through its softener.
type Use struct {
	Weekday [7]float64 // mean litres a day by weekday, Sunday first; NaN where not known
	Heavy   float64    // litres of a heavy day, as its 90 % quantile; NaN when not known
}

// heavyFactor makes a heavy day of the heaviest weekday's mean when nobody has
// measured one. Common practice, no source.
const heavyFactor = 1.3

// Daily is the mean litres a day over the weekdays that are known, NaN when none
// is.
func (u Use) Daily() float64 {
	sum, n := 0.0, 0.0
	for _, v := range u.Weekday {
		if v >= 0 {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// HeavyDay is the litres that the reserve must cover.
func (u Use) HeavyDay() float64 {
	if u.Heavy > 0 {
		return u.Heavy
	}
	heaviest := math.NaN()
	for _, v := range u.Weekday {
		if v >= 0 && !(v < heaviest) {
			heaviest = v
		}
	}
	return heaviest * heavyFactor
}

// Setting is what a technician sets, and what follows from it at a home.
type Setting struct {
	Capacity     float64 // eq per litre of resin, as programmed
	Dose         float64 // kg of salt per regeneration
	Reserve      float64 // share of capacity
	DaysOverride int     // at most so many days between regenerations

	Maintained  float64 // eq per litre that the dose maintains by the published curve
	Days        float64 // expected between regenerations
	SaltPerYear float64 // kg
	WaterYear   float64 // litres of regeneration water a year
	CostPerYear float64 // salt and regeneration water, in the home's currency
	HardShare   float64 // share of the hardness that gets past because capacity runs out first
	Checks      []Check
}

// Note names something the advice cannot mend by settings, or that a person
// should know before following it.
type Note string

// The notes.
const (
	NoteCapacityAboveDose Note = "capacity_above_dose" // set to promise more than its salt dose maintains
	NoteBedSmall          Note = "bed_small"           // no dose gives three days between regenerations
	NoteIronHigh          Note = "iron_high"           // more iron than a household softener bears: filter it first
	NoteIronWeekly        Note = "iron_weekly"         // iron asks for a regeneration a week, though it costs more
	NoteSodium            Note = "sodium"              // softened water holds more sodium than low-sodium guidance
	NoteUseUnknown        Note = "use_unknown"         // nobody measured the use: no advice
)

// Limits and habits of a setting; common practice, no source.
const (
	ironLimit      = 5.0   // mg/L of iron a household softener bears
	ironNoticeable = 0.3   // mg/L from which the bed is regenerated weekly
	daysClean      = 14    // most days between regenerations of a bed without iron
	daysWithIron   = 7     // and with it
	minDose        = 48.0  // g/L: 3 lb/ft3, below which hardness leaks through
	maxAdvisedDose = 240.0 // g/L: 15 lb/ft3, beyond which salt is wasted
	doseStep       = 0.1   // kg: as fine as a valve is set
)

// Advice is the present setting, the advised one, and what to mind.
type Advice struct {
	Hardness float64 // compensated, mg/L as CaCO3: what to set
	Present  Setting
	Advised  Setting
	Notes    []Note
}

// Saving is what the advised setting saves a year, in the home's currency.
func (a Advice) Saving() float64 { return a.Present.CostPerYear - a.Advised.CostPerYear }

// Advise works out the setting for a home from its measured water and use. With
// use unknown the advised setting is the present one, and a note says so.
func Advise(h *detect.Home, w detect.Water, u Use) Advice {
	a := Advice{Hardness: DefaultCompensation.Hardness(w)}
	b := bench{home: h, daily: Equivalents(u.Daily(), a.Hardness), heavy: Equivalents(u.HeavyDay(), a.Hardness)}
	s := h.Softener
	a.Present = b.work(Setting{Capacity: s.Capacity, Dose: s.SaltDose, Reserve: s.Reserve, DaysOverride: s.DaysOverride})
	a.Advised = a.Present
	a.note(w, s)
	if !(b.daily > 0) || !(s.Resin > 0) {
		a.Notes = append(a.Notes, NoteUseUnknown)
		return a
	}
	override := daysClean
	if known(w.Iron) >= ironNoticeable {
		override = daysWithIron
		a.Notes = append(a.Notes, NoteIronWeekly)
	}
	best, ok := b.search(override)
	if !ok {
		a.Notes = append(a.Notes, NoteBedSmall)
	}
	a.Advised = best
	return a
}

// note adds what follows from the water and the present setting alone.
func (a *Advice) note(w detect.Water, s detect.Softener) {
	if s.Capacity > a.Present.Maintained*(1+CapacityScatter) {
		a.Notes = append(a.Notes, NoteCapacityAboveDose)
	}
	if known(w.Iron) > ironLimit {
		a.Notes = append(a.Notes, NoteIronHigh)
	}
	if SodiumAdded(s.Salt, w.Hardness) > SodiumGuidance {
		a.Notes = append(a.Notes, NoteSodium)
	}
}

// bench tries settings on one home's water and use.
type bench struct {
	home         *detect.Home
	daily, heavy float64 // eq of hardness on a mean and on a heavy day
}

// search tries every dose a technician would set and keeps the cheapest of those
// with days enough between regenerations. When none has, it keeps the one with
// most days and ok is false.
func (b bench) search(override int) (best Setting, ok bool) {
	resin := b.home.Softener.Resin
	from, to := minDose*resin/1000, maxAdvisedDose*resin/1000
	for dose := math.Ceil(from/doseStep) * doseStep; dose <= to+doseStep/2; dose += doseStep {
		try := b.propose(math.Round(dose/doseStep)*doseStep, override)
		enough := try.Days >= DaysGoodPractice && try.HardShare == 0
		switch {
		case enough && (!ok || try.CostPerYear < best.CostPerYear):
			best, ok = try, true
		case !enough && !ok && try.Days > best.Days:
			best = try
		}
	}
	return best, ok
}

// propose is the setting around a dose: the capacity it maintains, rounded down
// to what a display shows, and a reserve for the heavy day in steps of 5 %.
func (b bench) propose(kg float64, override int) Setting {
	s := b.home.Softener
	capacity := math.Floor(100*BedCapacity(s.Salt, s.Resin, kg)/s.Resin) / 100
	reserve := math.Ceil(20*Reserve(s, capacity*s.Resin, b.heavy)) / 20
	return b.work(Setting{Capacity: capacity, Dose: kg, Reserve: reserve, DaysOverride: override})
}

// work fills in what follows from a setting at this home.
func (b bench) work(t Setting) Setting {
	s := b.home.Softener
	t.Maintained = BedCapacity(s.Salt, s.Resin, t.Dose) / s.Resin
	t.Days = Days(s.Control, t.Capacity*s.Resin*(1-t.Reserve), b.daily, t.DaysOverride)
	drain, refill := ProgrammeWater(s)
	water := drain + refill
	offered := b.daily * t.Days
	removed := min(offered, t.Maintained*s.Resin)
	t.HardShare = max(0, 1-removed/offered)
	t.SaltPerYear = t.Dose * year / t.Days
	t.WaterYear = water * year / t.Days
	t.CostPerYear = t.SaltPerYear*b.home.Costs.Salt + t.WaterYear/1000*b.home.Costs.Water
	t.Checks = Checks(removed, t.Dose, water, t.Days)
	return t
}
