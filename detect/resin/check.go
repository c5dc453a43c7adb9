package resin

// Check is one published limit held against a value.
type Check struct {
	Name   string  // of the rule, an identifier
	Value  float64 // in Unit
	Limit  float64 // in Unit
	Unit   string
	AtMost bool   // the limit is an upper one
	OK     bool   // the value keeps the limit; false when the value is not known
	Source string // where the limit is published
}

// The published limits. Where two sources name the same limit both are named.
const (
	// EfficiencyFloor2000 is 3,350 grains/lb in g CaCO3 per kg of salt.
	EfficiencyFloor2000 = 3350 * gramsPerKgFromGrainsPerPound
	// EfficiencyFloor2002 is 4,000 grains/lb in g CaCO3 per kg of salt.
	EfficiencyFloor2002 = 4000 * gramsPerKgFromGrainsPerPound
	// WaterCeiling is 5 US gal per 1,000 grains in litres per g CaCO3.
	WaterCeiling = 5 * litresPerGramFromGallonsPerKilograin
	// WaterGoodPractice is 2.5 US gal per 1,000 grains in litres per g CaCO3.
	WaterGoodPractice = 2.5 * litresPerGramFromGallonsPerKilograin
	// DaysGoodPractice is the fewest days between regenerations.
	DaysGoodPractice = 3.0

	gramsPerKgFromGrainsPerPound         = 64.79891e-3 / 0.45359237
	litresPerGramFromGallonsPerKilograin = 3.785411784 / 64.79891
)

// SaltEfficiency is the g of hardness as CaCO3 removed per kg of salt.
func SaltEfficiency(removedEq, kg float64) float64 { return Grams(removedEq) / kg }

// WaterEfficiency is the litres of regeneration water per g of hardness removed.
func WaterEfficiency(removedEq, litres float64) float64 { return litres / Grams(removedEq) }

// Checks holds what one regeneration cycle does against the published limits:
// removed eq of hardness for kg of salt and litres of water, days apart. A value
// that is NaN keeps no limit.
func Checks(removedEq, kg, litres, days float64) []Check {
	salt, water := SaltEfficiency(removedEq, kg), WaterEfficiency(removedEq, litres)
	return []Check{
		atLeast("salt_efficiency_2000", salt, EfficiencyFloor2000, "g/kg", "California H&S Code 116785(b)(2), from 2000"),
		atLeast("salt_efficiency_2002", salt, EfficiencyFloor2002, "g/kg", "California H&S Code 116785(b)(2), from 2002; Madison Metropolitan Sewerage District"),
		atMost("water_used", water, WaterCeiling, "L/g", "NSF/ANSI 44, from memory"),
		atMost("water_used_good_practice", water, WaterGoodPractice, "L/g", "Madison Metropolitan Sewerage District"),
		atLeast("days_between", days, DaysGoodPractice, "days", "Madison Metropolitan Sewerage District"),
	}
}

// slack keeps a value that equals its limit but for rounding on the right side.
const slack = 1e-9

func atLeast(name string, value, limit float64, unit, source string) Check {
	return Check{Name: name, Value: value, Limit: limit, Unit: unit, OK: value >= limit*(1-slack), Source: source}
}

func atMost(name string, value, limit float64, unit, source string) Check {
	return Check{Name: name, Value: value, Limit: limit, Unit: unit, AtMost: true, OK: value <= limit*(1+slack), Source: source}
}
