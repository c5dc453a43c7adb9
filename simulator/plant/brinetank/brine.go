package brinetank

import "math"

const (
	densityWater = 0.9986 // kg/L at 18 degC, handbook value from memory
	densitySalt  = 2.165  // kg/L, halite, handbook value from memory

	// Apparent volume of dissolved sodium chloride in L/kg: 16.6 mL/mol at no
	// strength and rising with the square root of molality (Masson's rule); the
	// slope follows from the density of 26 % brine, 1197.2 kg/m3 at 20 degC
	// (Poradnik fizykochemiczny, WNT 1974).
	apparentAtZero = 0.284
	apparentSlope  = 0.0312

	molarMassSalt = 0.0584428 // kg/mol
)

// Saturation is the salt in kg that a kg of water holds at most at a
// temperature in degC, from 0 to 40. A parabola through the solubilities of the
// Salt Institute's table, 26.29 % by mass at 0 degC to 26.68 % at 37.78.
func Saturation(temperature float64) float64 {
	share := (26.29 + 0.0055*temperature + 0.00013*temperature*temperature) / 100
	return share / (1 - share)
}

// Volume is the volume in L of water and dissolved salt, both in kg.
func Volume(water, salt float64) float64 {
	if water <= 0 {
		return 0
	}
	molality := salt / water / molarMassSalt
	return water/densityWater + salt*(apparentAtZero+apparentSlope*math.Sqrt(molality))
}
