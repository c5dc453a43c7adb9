package brine

import (
	"math"

	"brinebell/detect"
)

// SaturatedSaltPerLitre is the kg of sodium chloride in a litre of saturated
// brine at any household temperature (317.3 to 318.4 g/L from 0 to 40 degC,
// from the Salt Institute's solubility and the density of saturated brine).
const SaturatedSaltPerLitre = 0.3175

// OrdinaryTemperature is that of a tank nobody measures, degC: a cellar or
// utility room. Common practice, no source.
const OrdinaryTemperature = 15.0

// The range in which the relations below are checked against tables; beyond it
// a temperature is taken at the nearer end.
const (
	minTemperature = 0.0
	maxTemperature = 40.0
)

// solute is what sets one salt apart from another in solution.
type solute struct {
	// apparent holds c0 to c4 of Laliberté and Cooper's equation for the
	// apparent density of the dissolved salt.
	apparent [5]float64
	// saturated is the mass fraction at saturation at 0, 10, 20, 30, 40 degC.
	saturated [5]float64
}

// solutes: coefficients of M. Laliberté and W. E. Cooper, "Model for
// Calculating the Density of Aqueous Electrolyte Solutions", J. Chem. Eng. Data
// 49, 1141 (2004), from memory and held against other tables by the tests;
// solubility of the CRC Handbook of Chemistry and Physics, 98th ed., "Aqueous
// Solubility of Inorganic Compounds at Various Temperatures".
var solutes = map[detect.Salt]solute{
	detect.SodiumChloride: {
		apparent:  [5]float64{-0.00433, 0.06471, 1.0166, 0.014624, 3315.6},
		saturated: [5]float64{0.2628, 0.2632, 0.2641, 0.2652, 0.2667},
	},
	detect.PotassiumChloride: {
		apparent:  [5]float64{-0.46782, 4.30800, 2.3780, 0.022044, 2714.0},
		saturated: [5]float64{0.2174, 0.2361, 0.2539, 0.2704, 0.2859},
	},
}

// of finds the salt's solute; an unnamed salt is sodium chloride.
func of(salt detect.Salt) solute {
	if s, ok := solutes[salt]; ok {
		return s
	}
	return solutes[detect.SodiumChloride]
}

// WaterDensity is that of pure water in kg/L at t degC: G. S. Kell, J. Chem.
// Eng. Data 20, 97 (1975), equation 16, within 0.001 % from 0 to 40 degC.
func WaterDensity(t float64) float64 {
	t = clampTemperature(t)
	n := 999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9-t*280.54253e-12))))
	return n / (1 + 16.879850e-3*t) / 1000
}

// Density is that of a solution in kg/L at the mass fraction strength and t
// degC, within 0.1 % of the handbooks up to saturation.
func Density(salt detect.Salt, strength, t float64) float64 {
	t = clampTemperature(t)
	water := WaterDensity(t)
	if strength <= 0 {
		return water
	}
	c := of(salt).apparent
	k := t + c[4]
	dissolved := (c[0]*strength + c[1]) * math.Exp(1e-6*k*k) / (strength + c[2] + c[3]*t) / 1000
	return 1 / ((1-strength)/water + strength/dissolved)
}

// SaturatedStrength is the mass fraction of a saturated solution at t degC,
// linear between the handbook's values every 10 degrees.
func SaturatedStrength(salt detect.Salt, t float64) float64 {
	table := of(salt).saturated
	x := clampTemperature(t) / 10
	i := min(int(x), len(table)-2)
	return table[i] + (table[i+1]-table[i])*(x-float64(i))
}

// SaltPerLitre is the kg of salt in one litre of solution at the mass fraction
// strength and t degC.
func SaltPerLitre(salt detect.Salt, strength, t float64) float64 {
	return strength * Density(salt, strength, t)
}

// SaturatedSalt is the kg of salt in one litre of saturated brine at t degC: for
// what is drawn.
func SaturatedSalt(salt detect.Salt, t float64) float64 {
	return SaltPerLitre(salt, SaturatedStrength(salt, t), t)
}

// DissolvedPerLitre is the kg of salt that one litre of water at t degC takes up
// until it is saturated: for what is refilled.
func DissolvedPerLitre(salt detect.Salt, t float64) float64 {
	s := SaturatedStrength(salt, t)
	return s / (1 - s) * WaterDensity(t)
}

// WaterFor is the litres of water at t degC that dissolve dose kg of salt.
func WaterFor(salt detect.Salt, dose, t float64) float64 {
	return dose / DissolvedPerLitre(salt, t)
}

// BrineFor is the litres of saturated brine at t degC that hold dose kg of salt.
func BrineFor(salt detect.Salt, dose, t float64) float64 {
	return dose / SaturatedSalt(salt, t)
}

// Growth is how many litres of brine one litre of water becomes when it takes up
// all the salt it can: 1.13 for sodium chloride.
func Growth(salt detect.Salt, t float64) float64 {
	return DissolvedPerLitre(salt, t) / SaturatedSalt(salt, t)
}

// Strength is the mass fraction of a solution whose density in kg/L was read
// from a hydrometer at t degC: Density's inverse, from 0 to saturation.
func Strength(salt detect.Salt, density, t float64) float64 {
	low, high := 0.0, SaturatedStrength(salt, t)
	for range 40 { // halves the range to below 1e-12
		middle := (low + high) / 2
		if Density(salt, middle, t) < density {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// clampTemperature keeps t in the checked range; NaN becomes ordinary.
func clampTemperature(t float64) float64 {
	if math.IsNaN(t) {
		return OrdinaryTemperature
	}
	return min(max(t, minTemperature), maxTemperature)
}
