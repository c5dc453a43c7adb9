package brine

import (
	"math"

	"brinebell/detect"
)

// litresPerMM3 brings mm of level times mm2 of area to litres.
const litresPerMM3 = 1e-6

// Densities of the crystals, kg per litre: 2.165 and 1.984 g/cm3, from memory of
// common handbooks.
const (
	solidNaCl = 2.165
	solidKCl  = 1.984
)

// SolidDensity is that of the salt's crystal in kg per litre.
func SolidDensity(salt detect.Salt) float64 {
	if salt == detect.PotassiumChloride {
		return solidKCl
	}
	return solidNaCl
}

// Tank is the shape of a brine tank, ready to go between level and volume. The
// zero Tank holds nothing; use NewTank.
type Tank struct {
	full   float64 // L per mm where there is no salt
	porous float64 // L per mm where there is salt: the well and the pores
	grid   float64 // mm above the floor; below it no salt
	void   float64 // share of the salt bed that is pores
	bed    float64 // L of salt bed, pores included, per mm
}

// NewTank prepares the profile's brine tank. A well wider than the tank is
// taken as the whole tank.
func NewTank(t detect.BrineTank) Tank {
	area := func(diameter float64) float64 { return math.Pi / 4 * diameter * diameter * litresPerMM3 }
	full := area(t.Diameter)
	bed := full - min(full, area(t.Well))
	return Tank{
		full:   full,
		porous: full - bed*(1-t.SaltVoid),
		grid:   max(0, t.Grid),
		void:   t.SaltVoid,
		bed:    bed,
	}
}

// Volume is the liquid in litres that stands at level mm above the tank's
// floor when the salt's top stands at saltTop mm. A saltTop of NaN means that
// nobody knows: the salt is then taken to stand above the liquid, as it should
// in a tank that is looked after. A saltTop at or below the grid means no salt.
// A level of NaN gives NaN; one below the floor gives 0.
func (t Tank) Volume(level, saltTop float64) float64 {
	if math.IsNaN(level) {
		return level
	}
	level = max(0, level)
	top := t.top(saltTop)
	below := min(level, t.grid)
	within := max(0, min(level, top)-t.grid)
	above := max(0, level-max(t.grid, top))
	return t.full*(below+above) + t.porous*within
}

// Level is Volume's inverse: the level in mm at which volume litres stand. A
// volume of NaN gives NaN; a negative one gives 0.
func (t Tank) Level(volume, saltTop float64) float64 {
	if math.IsNaN(volume) {
		return volume
	}
	if volume <= 0 || t.full <= 0 {
		return 0
	}
	toGrid := t.full * t.grid
	if volume <= toGrid {
		return volume / t.full
	}
	bed := max(0, t.top(saltTop)-t.grid)
	if rest := volume - toGrid; rest <= t.porous*bed {
		return t.grid + rest/t.porous
	}
	return t.grid + bed + (volume-toGrid-t.porous*bed)/t.full
}

// LitresPerMM is how much liquid one mm of level is at level, the slope of
// Volume: it turns a sensor's error into litres.
func (t Tank) LitresPerMM(level, saltTop float64) float64 {
	if level > t.grid && level <= t.top(saltTop) {
		return t.porous
	}
	return t.full
}

// SolidLitres is the volume of the salt itself, pores left out, when its top
// stands at saltTop. NaN when that is not known.
func (t Tank) SolidLitres(saltTop float64) float64 {
	if math.IsNaN(saltTop) {
		return saltTop
	}
	return t.bed * (1 - t.void) * max(0, saltTop-t.grid)
}

// SaltMass is Mass for sodium chloride at any household temperature.
func (t Tank) SaltMass(saltTop, level float64) float64 {
	return t.Mass(detect.SodiumChloride, saltTop, level, SaturatedSaltPerLitre)
}

// Mass estimates all salt in the tank in kg: the pellets, from the bulk of the
// bed, and what is dissolved in the liquid at level, at perLitre kg. A level of
// NaN leaves the dissolved part out. The estimate is as good as the bed is flat
// and its pores as stated: 10 to 15 %, common practice. NaN when saltTop is not
// known.
func (t Tank) Mass(salt detect.Salt, saltTop, level, perLitre float64) float64 {
	solid := t.SolidLitres(saltTop) * SolidDensity(salt)
	if math.IsNaN(level) {
		return solid
	}
	return solid + t.Volume(level, saltTop)*perLitre
}

// top is the salt's top, with an unknown one far above any liquid.
func (t Tank) top(saltTop float64) float64 {
	if math.IsNaN(saltTop) {
		return math.Inf(1)
	}
	return saltTop
}
