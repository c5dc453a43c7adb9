package web

import (
	"math"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// reader writes numbers and times as one household reads them.
type reader struct {
	units detect.Units
	loc   *time.Location
}

func readerOf(h detect.Home) reader {
	loc := h.Location
	if loc == nil {
		loc = time.UTC
	}
	return reader{h.Units, loc}
}

// household is the unit of a dimension on the screen.
func (r reader) household(d detect.Dimension) string {
	us := map[detect.Dimension]string{detect.Volume: "gal", detect.FlowRate: "gal/min", detect.Length: "in", detect.Mass: "lb",
		detect.Pressure: "psi", detect.Hardness: "gpg", detect.Temperature: "degF"}
	metric := map[detect.Dimension]string{detect.Volume: "L", detect.FlowRate: "L/min", detect.Length: "mm", detect.Mass: "kg",
		detect.Pressure: "kPa", detect.Hardness: "mg/L", detect.Temperature: "degC", detect.Power: "W",
		detect.Concentration: "mg/L", detect.Conductivity: "uS/cm", detect.Exchange: "eq/L"}
	if unit, ok := us[d]; ok && r.units == detect.US {
		return unit
	}
	return metric[d]
}

// in converts a canonical value to the household's unit.
func (r reader) in(v float64, d detect.Dimension) float64 {
	out, err := detect.FromCanonical(v, r.household(d), d)
	if err != nil { // a dimension without a unit on the screen keeps its value
		return v
	}
	return out
}

// space keeps a number and its unit on one line.
const space = "\u00a0"

// noNumber stands where nothing was measured.
const noNumber = "not measured"

// amount writes a canonical value with the household's unit.
func (r reader) amount(v float64, d detect.Dimension) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return noNumber
	}
	unit := strings.NewReplacer("deg", "°", "uS", "µS").Replace(r.household(d))
	return strings.TrimSpace(number(r.in(v, d)) + space + unit)
}

// number keeps three digits that count below a thousand and groups thousands
// above.
func number(v float64) string {
	size := math.Abs(v)
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return noNumber
	case size < 0.0005:
		return "0"
	case size >= 99.95:
		return grouped(math.Round(v))
	case size >= 9.95:
		return trimmed(v, 1)
	case size >= 0.9995:
		return trimmed(v, 2)
	}
	return trimmed(v, 3)
}

func trimmed(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

func grouped(v float64) string {
	digits := strconv.FormatFloat(math.Abs(v), 'f', 0, 64)
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	if v < 0 {
		return "-" + digits
	}
	return digits
}

// moment writes a day and time of the home's clock, as in "Tue 24 Nov, 02:04".
func (r reader) moment(t time.Time) string {
	return r.day(t) + ", " + r.clock(t)
}

func (r reader) day(t time.Time) string {
	if r.units == detect.US {
		return t.In(r.loc).Format("Mon\u00a0Jan\u00a02")
	}
	return t.In(r.loc).Format("Mon\u00a02\u00a0Jan")
}

func (r reader) clock(t time.Time) string {
	if r.units == detect.US {
		return t.In(r.loc).Format("3:04\u00a0pm")
	}
	return t.In(r.loc).Format("15:04")
}

// span writes a length of time in its two largest units.
func span(d time.Duration) string {
	d = max(0, d)
	switch days, hours, minutes := int(d/(24*time.Hour)), int(d/time.Hour)%24, int(d/time.Minute)%60; {
	case days > 0:
		return joined(days, "day", hours, "h")
	case hours > 0:
		return joined(hours, "h", minutes, "min")
	case minutes > 0:
		return strconv.Itoa(minutes) + space + "min"
	}
	return strconv.Itoa(int(d/time.Second)) + space + "s"
}

func joined(large int, largeUnit string, small int, smallUnit string) string {
	text := strconv.Itoa(large) + space + largeUnit
	if largeUnit == "day" && large != 1 {
		text += "s"
	}
	if small > 0 {
		text += " " + strconv.Itoa(small) + space + smallUnit
	}
	return text
}
