package brinetank

import (
	"math"

	"brinebell/detect"
)

// densityWater is in kg/L at 18 degC, a handbook value from memory.
const densityWater = 0.9986

// Brine is the chemistry of one salt in water.
type Brine struct {
	crystal   float64 // kg/L of the solid
	molar     float64 // kg/mol
	apparent  float64 // L/kg, volume of the salt in very weak brine
	widens    float64 // L/kg by which that grows per root of molality (Masson's rule)
	saturated func(temperature float64) float64
}

// BrineOf is the brine of a salt. Apparent volumes start at 16.6 mL/mol for
// sodium chloride and 26.8 for potassium chloride, handbook values from memory;
// how they grow follows from one density each: 26 % sodium chloride, 1197.2
// kg/m3 at 20 degC (Poradnik fizykochemiczny, WNT 1974), and 24 % potassium
// chloride, 1162.3 (CRC Handbook, 102nd ed.).
func BrineOf(s detect.Salt) Brine {
	if s == detect.PotassiumChloride {
		return Brine{crystal: 1.984, molar: 0.0745513, apparent: 0.360, widens: 0.0255, saturated: potassium}
	}
	return Brine{crystal: 2.165, molar: 0.0584428, apparent: 0.284, widens: 0.0312, saturated: sodium}
}

// sodium is a parabola through the Salt Institute's solubilities, 26.29 % by
// mass at 0 degC to 26.68 % at 37.78.
func sodium(temperature float64) float64 {
	share := (26.29 + 0.0055*temperature + 0.00013*temperature*temperature) / 100
	return share / (1 - share)
}

// potassium is a parabola through the common handbook table, 27.6 g in 100 g of
// water at 0 degC to 40.0 at 40 (from memory).
func potassium(temperature float64) float64 {
	return (27.6 + 0.345*temperature - 0.0009*temperature*temperature) / 100
}

// Saturation is the salt in kg that a kg of water holds at most at a
// temperature in degC, from 0 to 40.
func (b Brine) Saturation(temperature float64) float64 { return b.saturated(temperature) }

// Volume is the volume in L of water and dissolved salt, both in kg.
func (b Brine) Volume(water, salt float64) float64 {
	if water <= 0 {
		return 0
	}
	molality := salt / water / b.molar
	return water/densityWater + salt*(b.apparent+b.widens*math.Sqrt(molality))
}
