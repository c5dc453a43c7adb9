package resin

import (
	"math"

	"brinebell/detect"
)

// Compensation is the hardness in mg/L as CaCO3 that each mg/L of iron and of
// manganese counts for when a softener is set, since both take up capacity and
// leave it only in part.
type Compensation struct{ Iron, Manganese float64 }

// DefaultCompensation is 4 grains per gallon per mg/L, the middle of the usual 3
// to 5; manganese is taken like iron. Common practice, no source.
var DefaultCompensation = Compensation{
	Iron:      4 * detect.MgPerGrainPerGallon,
	Manganese: 4 * detect.MgPerGrainPerGallon,
}

// Hardness is the hardness to set a softener for, mg/L as CaCO3. Iron or
// manganese that is NaN counts as none.
func (c Compensation) Hardness(w detect.Water) float64 {
	return w.Hardness + c.Iron*known(w.Iron) + c.Manganese*known(w.Manganese)
}

// known is v, or 0 when nobody measured it.
func known(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return max(0, v)
}

// Sodium and potassium that softening puts in for each mg of hardness as CaCO3
// it takes out, mg: 2 x 22.98977 / 100.0869 and 2 x 39.0983 / 100.0869.
const (
	SodiumPerHardness    = 2 * 22.98977 / 100.0869
	PotassiumPerHardness = 2 * 39.0983 / 100.0869
)

// SodiumGuidance is the sodium in drinking water in mg/L up to which a diet of
// 500 mg a day still fits: EPA 822-R-03-006. People on such a diet ask their
// physician and drink from a tap that is not softened.
const SodiumGuidance = 20.0

// SodiumAdded is the mg/L of sodium that taking hardness mg/L out puts in; none
// when the salt is potassium chloride.
func SodiumAdded(salt detect.Salt, hardness float64) float64 {
	if salt == detect.PotassiumChloride {
		return 0
	}
	return SodiumPerHardness * hardness
}

// ProgrammeWater is the litres to the drain and into the brine tank of one
// regeneration as programmed. A
// phase without a known flow makes its sum NaN.
func ProgrammeWater(s detect.Softener) (drain, refill float64) {
	for _, p := range s.Cycle {
		litres := p.Flow * p.Duration.Minutes()
		if p.Phase == detect.Refill {
			refill += litres
		} else {
			drain += litres
		}
	}
	return drain, refill
}

// Days is the days between regenerations to expect: usable eq of capacity at
// daily eq of hardness removed, under the kind of control. A metered softener
// that waits for its hour goes on for half a day past usable in the mean, by the
// renewal theorem and a little more where days differ much; override is the most
// days between regenerations, 0 for none, and the interval itself when timed.
// +Inf when nothing ever makes it regenerate.
func Days(c detect.Control, usable, daily float64, override int) float64 {
	most := math.Inf(1)
	if override > 0 {
		most = float64(override)
	}
	switch {
	case c == detect.Timed:
		return most
	case daily <= 0:
		return most
	case c == detect.MeteredImmediate:
		return min(most, usable/daily)
	}
	return min(most, max(1, usable/daily+0.5))
}

// Reserve is the share of capacity (eq) to keep back so that a heavy day's
// hardness (eq) still finds capacity before the hour of regeneration. A softener
// that regenerates at once needs none, alternating tanks neither.
func Reserve(s detect.Softener, capacity, heavyDay float64) float64 {
	if s.Control == detect.MeteredImmediate || s.Alternating || capacity <= 0 {
		return 0
	}
	return min(maxReserve, max(minReserve, heavyDay/capacity))
}

// The bounds of a reserve worth setting: below 10 % a guest uses it up, above
// half the bed is too small. Common practice, no source.
const (
	minReserve = 0.10
	maxReserve = 0.50
)

// year is the days of a mean year.
const year = 365.25
