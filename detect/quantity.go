package detect

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// Dimension is a kind of quantity; it fixes the canonical unit.
type Dimension string

// The dimensions, each with its canonical unit.
const (
	Volume        Dimension = "volume"         // L
	FlowRate      Dimension = "flow"           // L/min
	Length        Dimension = "length"         // mm
	Mass          Dimension = "mass"           // kg
	Pressure      Dimension = "pressure"       // kPa
	Power         Dimension = "power"          // W
	Concentration Dimension = "concentration"  // mg/L
	Exchange      Dimension = "capacity"       // eq/L of resin
	Hardness      Dimension = "hardness"       // mg/L as CaCO3
	Temperature   Dimension = "temperature"    // degC
	Conductivity  Dimension = "conductivity"   // uS/cm
	Fraction      Dimension = "share"          // 0 to 1
	PerVolume     Dimension = "price of water" // per m3
	PerMass       Dimension = "price of salt"  // per kg
	HardnessMass  Dimension = "total hardness" // grains as CaCO3 in all
)

// Exact definitions behind the table: the international foot, pound and US
// gallon (231 in3), the grain (1/7000 lb), standard gravity for psi. Published
// side by side in NIST Special Publication 811 (2008), appendix B.8.
const (
	litresPerGallon = 3.785411784
	litresPerFt3    = 28.316846592
	kgPerPound      = 0.45359237
	mgPerGrain      = 64.79891
	kPaPerPsi       = 6.894757293168361

	// MgPerGrainPerGallon is one grain per US gallon in mg/L.
	MgPerGrainPerGallon = mgPerGrain / litresPerGallon
	// EquivalentCaCO3 is the mass of one equivalent of calcium carbonate, in
	// grams: half of 100.0869 g/mol.
	EquivalentCaCO3 = 100.0869 / 2
)

// conversion is canonical = (value + before) * factor.
type conversion struct{ factor, before float64 }

// conversions is the one table of units. The first unit of a dimension is the
// canonical one.
var conversions = map[Dimension]map[string]conversion{
	Volume: {"L": {1, 0}, "l": {1, 0}, "mL": {0.001, 0}, "m3": {1000, 0}, "gal": {litresPerGallon, 0}, "ft3": {litresPerFt3, 0}},
	FlowRate: {"L/min": {1, 0}, "l/min": {1, 0}, "L/h": {1.0 / 60, 0}, "l/h": {1.0 / 60, 0}, "L/s": {60, 0}, "l/s": {60, 0}, "m3/h": {1000.0 / 60, 0},
		"m3/s": {60000, 0}, "gpm": {litresPerGallon, 0}, "gal/min": {litresPerGallon, 0}},
	Length:        {"mm": {1, 0}, "cm": {10, 0}, "m": {1000, 0}, "in": {25.4, 0}, "ft": {304.8, 0}},
	Mass:          {"kg": {1, 0}, "g": {0.001, 0}, "lb": {kgPerPound, 0}},
	Pressure:      {"kPa": {1, 0}, "Pa": {0.001, 0}, "hPa": {0.1, 0}, "bar": {100, 0}, "psi": {kPaPerPsi, 0}},
	Power:         {"W": {1, 0}, "mW": {0.001, 0}},
	Concentration: {"mg/L": {1, 0}, "mg/l": {1, 0}, "ppm": {1, 0}, "ug/L": {0.001, 0}},
	Hardness: {"mg/L": {1, 0}, "mg/l": {1, 0}, "ppm": {1, 0}, "gpg": {MgPerGrainPerGallon, 0}, "mmol/L": {2 * EquivalentCaCO3, 0},
		"meq/L": {EquivalentCaCO3, 0}, "degdH": {17.848, 0}, "degfH": {10, 0}},
	Exchange:     {"eq/L": {1, 0}, "grains/ft3": {mgPerGrain / 1000 / EquivalentCaCO3 / litresPerFt3, 0}},
	HardnessMass: {"grains": {1, 0}, "eq": {EquivalentCaCO3 * 1000 / mgPerGrain, 0}},
	Temperature:  {"degC": {1, 0}, "Cel": {1, 0}, "degF": {5.0 / 9, -32}},
	Conductivity: {"uS/cm": {1, 0}, "mS/cm": {1000, 0}, "S/m": {10000, 0}},
	Fraction:     {"": {1, 0}, "%": {0.01, 0}},
	PerVolume:    {"/m3": {1, 0}, "/L": {1000, 0}, "/gal": {1000 / litresPerGallon, 0}},
	PerMass:      {"/kg": {1, 0}, "/lb": {1 / kgPerPound, 0}},
}

// canonical is the unit that a bare number of the dimension is taken to be in.
// Only hardness and shares may be bare in a profile.
var canonical = map[Dimension]string{Volume: "L", FlowRate: "L/min", Length: "mm", Mass: "kg", Pressure: "kPa",
	Power: "W", Concentration: "mg/L", Hardness: "mg/L", Exchange: "eq/L", HardnessMass: "grains", Temperature: "degC",
	Conductivity: "uS/cm", Fraction: "", PerVolume: "/m3", PerMass: "/kg"}

// Convert brings a value in the named unit to the dimension's canonical unit.
func Convert(value float64, unit string, d Dimension) (float64, error) {
	c, ok := conversions[d][unit]
	if !ok {
		return 0, fmt.Errorf("unknown unit %q for a %s: use %s", unit, d, strings.Join(unitsOf(d), ", "))
	}
	return (value + c.before) * c.factor, nil
}

// FromCanonical is Convert's inverse.
func FromCanonical(value float64, unit string, d Dimension) (float64, error) {
	c, ok := conversions[d][unit]
	if !ok {
		return 0, fmt.Errorf("unknown unit %q for a %s: use %s", unit, d, strings.Join(unitsOf(d), ", "))
	}
	return value/c.factor - c.before, nil
}

// ParseQuantity reads "12 gpg" or "28.3L" into the dimension's canonical unit.
// A bare number is taken in the canonical unit of hardness, concentrations and
// shares; elsewhere the unit must be written.
func ParseQuantity(text string, d Dimension) (float64, error) {
	text = strings.TrimSpace(text)
	end := numberEnd(text)
	value, err := strconv.ParseFloat(text[:end], 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number with a unit, as in \"12 %s\"", text, canonical[d])
	}
	unit := strings.TrimSpace(text[end:])
	if unit == "" && value != 0 && !slices.Contains([]Dimension{Hardness, Concentration, Fraction}, d) {
		return 0, fmt.Errorf("%q has no unit: use %s", text, strings.Join(unitsOf(d), ", "))
	}
	if unit == "" {
		unit = canonical[d]
	}
	return Convert(value, unit, d)
}

// numberEnd is the length of the number at the head of text. An exponent counts
// only when digits follow it, so that "3 eq" keeps its unit.
func numberEnd(text string) int {
	i := 0
	for i < len(text) && strings.IndexByte("+-.0123456789", text[i]) >= 0 {
		i++
	}
	if i < len(text) && (text[i] == 'e' || text[i] == 'E') {
		j := i + 1
		if j < len(text) && (text[j] == '+' || text[j] == '-') {
			j++
		}
		start := j
		for j < len(text) && text[j] >= '0' && text[j] <= '9' {
			j++
		}
		if j > start {
			return j
		}
	}
	return i
}

func unitsOf(d Dimension) []string {
	var names []string
	for name := range conversions[d] {
		if name != "" {
			names = append(names, name)
		}
	}
	sort.Strings(names)
	return names
}

// Dimension is the dimension of the signal's values; empty for a state or a
// battery's percentage, which are never converted.
func (s Signal) Dimension() Dimension {
	switch s {
	case InletFlow, ServiceFlow, DrainFlow:
		return FlowRate
	case InletVolume, ServiceVolume, DrainVolume:
		return Volume
	case BrineLevel, SaltLevel:
		return Length
	case InletPressure, OutletPressure:
		return Pressure
	case ValvePower:
		return Power
	case RawHardness, ColdHardness, HotHardness:
		return Hardness
	case RawIron:
		return Concentration
	case SoftConductivity:
		return Conductivity
	case WaterTemperature:
		return Temperature
	}
	return ""
}
