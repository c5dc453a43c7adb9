package web

import (
	"regexp"
	"strconv"
	"strings"

	"brinebell/detect"
)

// metricFigure finds the figures that stand in plain texts in metric units.
var metricFigure = regexp.MustCompile(`([0-9]+(?:\.[0-9]+)?)(?: (?:to|bis) ([0-9]+))? ?(degC|°C|kg/year|kg|L/min|L/day|L/h|L|mm/h|mm|mg/L|kPa|days|min|h)\b`)

// textUnits are the units of metricFigure with what follows the reader's own.
var textUnits = map[string]measure{
	"degC": {dimension: detect.Temperature}, "°C": {dimension: detect.Temperature}, "kg": {dimension: detect.Mass}, "kg/year": {dimension: detect.Mass, per: "per.year"},
	"L/min": {dimension: detect.FlowRate}, "L/day": {dimension: detect.Volume, per: "per.day"}, "L/h": {dimension: detect.Volume, per: "per.hour"}, "L": {dimension: detect.Volume},
	"mm": {dimension: detect.Length}, "mm/h": {dimension: detect.Length, per: "per.hour"}, "mg/L": {dimension: detect.Hardness}, "kPa": {dimension: detect.Pressure},
}

// figured writes the figures of a text, which are metric, in the reader's units.
// Temperatures and weights of advice are whole: such advice is not finer.
func (r reader) figured(text string) string {
	return metricFigure.ReplaceAllStringFunc(text, func(found string) string {
		m := metricFigure.FindStringSubmatch(found)
		unit, ok := textUnits[m[3]]
		if !ok { // a length of time is the same for everybody
			return r.figure(m[1], "") + space + m[3]
		}
		var parts []string
		for _, digits := range m[1:3] {
			if digits != "" {
				parts = append(parts, r.figure(digits, unit.dimension))
			}
		}
		text := strings.Join(parts, "–") + space + r.unit(unit.dimension)
		if unit.per != "" {
			text += r.Say(unit.per)
		}
		return text
	})
}

func (r reader) figure(digits string, d detect.Dimension) string {
	v, err := strconv.ParseFloat(digits, 64)
	switch {
	case err != nil:
		return digits
	case (d == detect.Temperature || d == detect.Mass) && !strings.Contains(digits, "."):
		return r.Grouped(r.in(v, d))
	case d == "":
		return r.Number(v)
	}
	return r.Number(r.in(v, d))
}
