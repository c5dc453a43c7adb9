package brinetank

import (
	"math"

	"brinebell/detect"
)

// shape is the tank's geometry in litres per millimetre of height.
type shape struct {
	full, well  float64 // the whole tank, the well
	grid        float64 // mm
	height      float64 // mm
	packing     float64 // kg of salt per L of salt bed
	pores       float64 // share of the salt bed that liquid fills
	saltPerMM   float64 // kg
	liquidPerMM float64 // L among the salt, with the well
}

func newShape(t detect.BrineTank, crystal, pores float64) shape {
	s := shape{
		full: math.Pi / 4 * t.Diameter * t.Diameter / 1e6, well: math.Pi / 4 * t.Well * t.Well / 1e6,
		grid: t.Grid, height: t.Height, packing: crystal * (1 - t.SaltVoid),
	}
	s.saltPerMM = s.packing * (s.full - s.well)
	s.setPores(pores)
	return s
}

func (s *shape) setPores(pores float64) {
	s.pores = pores
	s.liquidPerMM = s.well + pores*(s.full-s.well)
}

// saltTop is the height in mm to which kg of salt reach.
func (s *shape) saltTop(kg float64) float64 {
	if kg <= 0 {
		return 0
	}
	return s.grid + kg/s.saltPerMM
}

// level is how high litres stand when salt lies from the grid to top.
func (s *shape) level(litres, top float64) float64 {
	below := s.grid * s.full
	if litres <= below || top <= s.grid {
		return litres / s.full
	}
	among := (top - s.grid) * s.liquidPerMM
	if litres <= below+among {
		return s.grid + (litres-below)/s.liquidPerMM
	}
	return top + (litres-below-among)/s.full
}

// litres is level's inverse.
func (s *shape) litres(level, top float64) float64 {
	if level <= s.grid || top <= s.grid {
		return level * s.full
	}
	among := min(level, top) - s.grid
	return s.grid*s.full + among*s.liquidPerMM + max(0, level-top)*s.full
}

// Holds is the salt in kg, of the given brine, that fills the tank t to a
// height in mm.
func (b Brine) Holds(t detect.BrineTank, height float64) float64 {
	s := newShape(t, b.crystal, t.SaltVoid)
	return max(0, height-t.Grid) * s.saltPerMM
}
