package resin

import (
	"math"

	"gonum.org/v1/gonum/interp"

	"brinebell/detect"
)

// Molar masses in g/mol, IUPAC atomic masses; one mole is one equivalent.
const (
	molarNaCl = 58.4428
	molarKCl  = 74.5513
)

// TotalCapacity is all the hardness a litre of new 8 % cross-linked gel resin can
// hold, eq/L: 1.9 to 2.0, Franks, Water Technology, October 2014.
const TotalCapacity = 2.0

// CapacityScatter is the relative scatter of published capacities about the
// curve, one row against another: about 10 %.
const CapacityScatter = 0.10

// gramsPerPoundPerFt3 brings lb of salt per ft3 of resin to g/L, and
// eqPerGrain grains per ft3 to eq/L: exact definitions, NIST SP 811 B.8.
const (
	gramsPerPoundPerFt3 = 453.59237 / 28.316846592
	eqPerGrain          = 64.79891e-3 / detect.EquivalentCaCO3 / 28.316846592
)

// knots is capacity against dose, lb/ft3 and grains/ft3, co-current, sodium
// chloride. 3 and 5 lb: Water Quality Products, "The Best System for the
// Application", has more than 4,000 grains/lb in this range, which by 5 lb only
// the upper edge of the scatter reaches beside the next row. 6 lb: Virginia 12
// VAC 5-590-900(D). 8 and 10 lb: common practice, from memory. 15 lb: Water
// Quality Products, "Sizing Softeners" (2009), 30,000 to 32,000. 20 lb: Water
// Quality Products, as above.
var knots = [][2]float64{
	{0, 0}, {3, 12500}, {5, 18000}, {6, 20000}, {8, 24000}, {10, 27000}, {15, 31000}, {20, 35000},
}

// curve is fitted once and only read afterwards.
var curve = func() *interp.FritschButland {
	x, y := make([]float64, len(knots)), make([]float64, len(knots))
	for i, k := range knots {
		x[i], y[i] = k[0]*gramsPerPoundPerFt3, k[1]*eqPerGrain
	}
	fitted := new(interp.FritschButland)
	_ = fitted.Fit(x, y) // its only failures are panics on knots out of order
	return fitted
}()

// The ends of the published rows: below the first knot efficiency is constant;
// beyond the last one capacity nears TotalCapacity.
var (
	firstDose = knots[1][0] * gramsPerPoundPerFt3
	firstCap  = knots[1][1] * eqPerGrain
	lastDose  = knots[len(knots)-1][0] * gramsPerPoundPerFt3
	lastCap   = knots[len(knots)-1][1] * eqPerGrain
)

// lastSlope is the curve's mean rise between its last two rows, eq per g.
const lastSlope = 4000 * eqPerGrain / (5 * gramsPerPoundPerFt3)

// Stoichiometric is the hardness in eq that kg of salt could displace if none
// were wasted: 17.11 eq/kg for sodium chloride, 13.41 for potassium chloride.
func Stoichiometric(salt detect.Salt, kg float64) float64 {
	if salt == detect.PotassiumChloride {
		return 1000 * kg / molarKCl
	}
	return 1000 * kg / molarNaCl
}

// Capacity is the operating capacity in eq per litre of resin that a dose of salt
// in g per litre of resin maintains, co-current, bed in good order. Potassium
// chloride counts at its equivalents. Rises with dose from 0 towards
// TotalCapacity and never above the stoichiometric limit. NaN for NaN.
func Capacity(salt detect.Salt, dose float64) float64 {
	d := Stoichiometric(salt, dose/1000) * molarNaCl // as sodium chloride
	switch {
	case math.IsNaN(d):
		return d
	case d <= 0:
		return 0
	case d < firstDose:
		return firstCap * d / firstDose
	case d <= lastDose:
		return curve.Predict(d)
	}
	room := TotalCapacity - lastCap
	return lastCap + room*(1-math.Exp(-(d-lastDose)*lastSlope/room))
}

// maxDose is the dose in g/L beyond which more salt does nothing that counts.
const maxDose = 2000.0

// Dose is Capacity's inverse: the salt in g per litre of resin that maintains a
// capacity in eq per litre. +Inf for a capacity that no dose maintains.
func Dose(salt detect.Salt, capacity float64) float64 {
	if math.IsNaN(capacity) {
		return capacity
	}
	if capacity <= 0 {
		return 0
	}
	low, high := 0.0, maxDose
	if Capacity(salt, high) < capacity {
		return math.Inf(1)
	}
	for range 60 {
		if middle := (low + high) / 2; Capacity(salt, middle) < capacity {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// BedCapacity is the hardness in eq that a bed of litres of resin takes up after
// a regeneration with kg of salt, every one before it alike.
func BedCapacity(salt detect.Salt, litres, kg float64) float64 {
	if litres <= 0 {
		return math.NaN()
	}
	return litres * Capacity(salt, 1000*kg/litres)
}

// After is the hardness in eq that a bed can still take up right after a
// regeneration with kg of salt that found left eq: no more than the curve
// maintains, no more than the salt can displace, and never less than was left.
func After(salt detect.Salt, litres, kg, left float64) float64 {
	return max(left, min(BedCapacity(salt, litres, kg), max(0, left)+Stoichiometric(salt, kg)))
}

// Grams is the hardness of eq equivalents in grams as CaCO3.
func Grams(eq float64) float64 { return eq * detect.EquivalentCaCO3 }

// Equivalents is the hardness in eq that litres of water at hardness mg/L carry.
func Equivalents(litres, hardness float64) float64 {
	return litres * hardness / 1000 / detect.EquivalentCaCO3
}
