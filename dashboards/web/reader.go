package web

import (
	"math"
	"strconv"
	"strings"
	"time"

	"brinebell/dashboards/web/texts"
	"brinebell/detect"
)

// reader writes numbers, times and texts as one person reads them: in their
// language and units, by the clock of the home.
type reader struct {
	units detect.Units
	loc   *time.Location
	*texts.Tongue
}

// readerOf reads a home in English and its own units, for whoever has no wishes.
func readerOf(h detect.Home) reader { return asker{}.reads(h) }

// household is the unit of a dimension on the screen.
func (r reader) household(d detect.Dimension) string {
	if r.units == detect.US {
		switch d {
		case detect.Volume:
			return "gal"
		case detect.FlowRate:
			return "gal/min"
		case detect.Length:
			return "in"
		case detect.Mass:
			return "lb"
		case detect.Pressure:
			return "psi"
		case detect.Hardness:
			return "gpg"
		case detect.Temperature:
			return "degF"
		}
	}
	return metricUnit(d)
}

func metricUnit(d detect.Dimension) string {
	switch d {
	case detect.Volume:
		return "L"
	case detect.FlowRate:
		return "L/min"
	case detect.Length:
		return "mm"
	case detect.Mass:
		return "kg"
	case detect.Pressure:
		return "kPa"
	case detect.Hardness, detect.Concentration:
		return "mg/L"
	case detect.Temperature:
		return "degC"
	case detect.Power:
		return "W"
	case detect.Conductivity:
		return "uS/cm"
	case detect.Exchange:
		return "eq/L"
	}
	return ""
}

// unit is the household's unit as it is printed.
func (r reader) unit(d detect.Dimension) string {
	switch unit := r.household(d); unit {
	case "degC":
		return "°C"
	case "degF":
		return "°F"
	case "uS/cm":
		return "µS/cm"
	default:
		return unit
	}
}

// in converts a canonical value to the household's unit.
func (r reader) in(v float64, d detect.Dimension) float64 {
	if r.units != detect.US { // the metric units are the canonical ones
		return v
	}
	out, err := detect.FromCanonical(v, r.household(d), d)
	if err != nil { // a dimension without a unit on the screen keeps its value
		return v
	}
	return out
}

// canonical converts what a person wrote in their unit.
func (r reader) canonical(v float64, d detect.Dimension) (float64, error) {
	return detect.ParseQuantity(strconv.FormatFloat(v, 'f', -1, 64)+" "+r.household(d), d)
}

// space keeps a number and its unit on one line.
const space = "\u00a0"

// amount writes a canonical value with the household's unit.
func (r reader) amount(v float64, d detect.Dimension) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return r.Say("number.none")
	}
	return strings.TrimSpace(r.Number(r.in(v, d)) + space + r.unit(d))
}

// about writes an amount in whole units, for what is not known finely.
func (r reader) about(v float64, d detect.Dimension) string {
	return r.Grouped(r.in(v, d)) + space + r.unit(d)
}

// money writes an amount of the home's currency.
func (r reader) money(v float64, currency string) string {
	decimals := 2
	if math.Abs(v) >= 20 {
		decimals = 0
	}
	sign, known := map[string]string{"EUR": "€", "USD": "$", "GBP": "£"}[currency]
	switch amount := r.Fixed(v, decimals); {
	case !known:
		return amount + space + currency
	case r.Lang() == texts.English:
		return sign + amount
	default:
		return amount + space + sign
	}
}

// moment writes a day and time of the home's clock, as in "Tue 24 Nov, 02:04".
func (r reader) moment(t time.Time) string {
	return r.day(t) + ", " + r.clock(t)
}

func (r reader) day(t time.Time) string {
	return strings.ReplaceAll(r.Day(t.In(r.loc), r.twelve()), " ", space)
}

func (r reader) clock(t time.Time) string {
	if r.twelve() {
		return t.In(r.loc).Format("3:04\u00a0pm")
	}
	return t.In(r.loc).Format("15:04")
}

// twelve says whether hours and days are written as in the United States.
func (r reader) twelve() bool { return r.units == detect.US && r.Lang() == texts.English }

// span writes a length of time in its two largest units.
func (r reader) span(d time.Duration) string {
	d = max(0, d)
	switch days, hours, minutes := int(d/(24*time.Hour)), int(d/time.Hour)%24, int(d/time.Minute)%60; {
	case days > 0 && hours > 0:
		return r.nbsp("span.days", "n", days) + " " + r.nbsp("span.hours", "n", hours)
	case days > 0:
		return r.nbsp("span.days", "n", days)
	case hours > 0 && minutes > 0:
		return r.nbsp("span.hours", "n", hours) + " " + r.nbsp("span.minutes", "n", minutes)
	case hours > 0:
		return r.nbsp("span.hours", "n", hours)
	case minutes > 0:
		return r.nbsp("span.minutes", "n", minutes)
	}
	return r.nbsp("span.seconds", "n", int(d/time.Second))
}

// roughly writes a length of time in its largest unit alone.
func (r reader) roughly(d time.Duration) string {
	switch {
	case d >= 36*time.Hour:
		return r.nbsp("span.days", "n", int(d.Round(24*time.Hour)/(24*time.Hour)))
	case d >= 90*time.Minute:
		return r.nbsp("span.hours", "n", int(d.Round(time.Hour)/time.Hour))
	}
	return r.nbsp("span.minutes", "n", int(d.Round(time.Minute)/time.Minute))
}

func (r reader) nbsp(key string, pairs ...any) string {
	return strings.ReplaceAll(r.Say(key, pairs...), " ", space)
}
