package senml

import (
	"math"

	"brinebell/detect"
)

// unit is a unit of the IANA SenML registry that fits a dimension: canonical =
// value * factor + offset.
type unit struct {
	name      string
	factor    float64
	offset    float64
	secondary bool // registered by RFC 8798 or not recommended: read, not written
}

// units are the registered units that each dimension may come in; the first is
// the one written. Factors are exact. There are no gallons, L/min or kPa in the
// registry, so there are none here.
var units = map[detect.Dimension][]unit{
	detect.Volume:        {{"m3", 1000, 0, false}, {"l", 1, 0, true}},
	detect.FlowRate:      {{"m3/s", 60000, 0, false}, {"l/s", 60, 0, true}},
	detect.Length:        {{"m", 1000, 0, false}, {"mm", 1, 0, true}, {"cm", 10, 0, true}},
	detect.Pressure:      {{"Pa", 0.001, 0, false}, {"hPa", 0.1, 0, true}},
	detect.Power:         {{"W", 1, 0, false}, {"kW", 1000, 0, true}},
	detect.Hardness:      {{"kg/m3", 1000, 0, false}, {"mg/l", 1, 0, true}},
	detect.Concentration: {{"kg/m3", 1000, 0, false}, {"mg/l", 1, 0, true}},
	detect.Temperature:   {{"Cel", 1, 0, false}, {"K", 1, -273.15, false}},
	detect.Conductivity:  {{"S/m", 10000, 0, false}},
}

// The signals without a dimension.
var (
	stateUnits   = []unit{{"/", 1, 0, false}, {"", 1, 0, false}}
	batteryUnits = []unit{{"%EL", 1, 0, false}, {"/", 100, 0, false}, {"/100", 1, 0, true}, {"%", 1, 0, true}}
)

// unitsOf are the units that a signal's values may come in.
func unitsOf(s detect.Signal) []unit {
	switch s {
	case detect.FloorWet:
		return stateUnits
	case detect.Battery:
		return batteryUnits
	}
	return units[s.Dimension()]
}

// findUnit is the named one of the signal's units.
func findUnit(s detect.Signal, name []byte) (u unit, ok bool) {
	for _, u := range unitsOf(s) {
		if u.name == string(name) {
			return u, true
		}
	}
	return unit{}, false
}

// convert brings a value to the canonical unit.
func (u unit) convert(value float64) float64 {
	if u.factor == 1 && u.offset == 0 {
		return value
	}
	return tidy(value*u.factor + u.offset)
}

// digits is how many significant decimal digits float64 holds of any number.
const digits = 15

// tidy rounds to the decimal number of 15 digits that was most likely meant:
// 1.001 m3 are 1001 L, though 1.001*1000 as float64 is 1000.9999999999999. The
// last division is of two numbers that float64 holds exactly, and so correctly
// rounded.
func tidy(value float64) float64 {
	if value == 0 || math.IsNaN(value) || math.IsInf(value, 0) {
		return value
	}
	shift := digits - 1 - int(math.Floor(math.Log10(math.Abs(value))))
	if shift < 0 || shift > 22 { // 1e22 is the largest exact power of ten
		return value
	}
	scale := math.Pow10(shift)
	return math.Round(value*scale) / scale
}

// total is the running total of the pipe whose rate is flow.
func total(flow detect.Signal) detect.Signal {
	switch flow {
	case detect.InletFlow:
		return detect.InletVolume
	case detect.ServiceFlow:
		return detect.ServiceVolume
	}
	return detect.DrainVolume
}
