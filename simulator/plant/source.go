package plant

import (
	"brinebell/detect"
	"brinebell/simulator/plant/column"
)

// Composition of a plain hard water, common practice: about 70 % of the
// hardness calcium, sodium a fifth of it and half a milliequivalent.
const (
	calciumShare    = 0.7
	sodiumShare     = 0.2
	sodiumBase      = 0.0005 // eq/L
	ironEquivalent  = 27920  // mg per eq of Fe2+, half of 55.845 g/mol
	mgPerEquivalent = detect.EquivalentCaCO3 * 1000
	hardnessGrows   = 1.0 // of itself, at a source change of severity 1
	ironComes       = 3.0 // mg/L, at a source change of severity 1
)

// source is the raw water.
type source struct {
	hardness float64 // mg/L as CaCO3
	iron     float64 // mg/L
	water    column.Water
}

// newSource is a raw water with its iron counted among the hardness that the
// resin takes up, which is how ferrous iron behaves until it turns to rust.
func newSource(hardness, iron float64) source {
	h := hardness / mgPerEquivalent
	return source{hardness: hardness, iron: iron, water: column.Water{
		Calcium:   h * calciumShare,
		Magnesium: h*(1-calciumShare) + iron/ironEquivalent,
		Total:     h*(1+sodiumShare) + sodiumBase + iron/ironEquivalent,
	}}
}

// Equivalent conductivities at infinite dilution and 25 degC, S cm2/eq
// (handbook values, from memory), and the share left at the strength of tap
// water.
const (
	conductCalcium     = 59.5
	conductMagnesium   = 53.1
	conductSodium      = 50.1
	conductBicarbonate = 44.5
	conductChloride    = 76.3
	conductShare       = 0.92
)

// conductivity in uS/cm of water whose anions are the source's, bicarbonate
// and chloride in equal parts, and chloride where brine was left in it.
func (s *source) conductivity(w column.Water) float64 {
	mono := w.Total - w.Calcium - w.Magnesium
	extra := max(0, w.Total-s.water.Total)
	cations := w.Calcium*conductCalcium + w.Magnesium*conductMagnesium + mono*conductSodium
	anions := (w.Total-extra)*(conductBicarbonate+conductChloride)/2 + extra*conductChloride
	return (cations + anions) * 1000 * conductShare
}

// hardness in mg/L as CaCO3 of w.
func hardness(w column.Water) float64 { return w.Hardness() * mgPerEquivalent }
