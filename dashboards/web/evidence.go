package web

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
)

// fact is one line of evidence, ready to be read.
type fact struct{ Name, Value string }

// unitSuffix says what the ending of a name in the evidence measures.
type unitSuffix struct {
	ending    string
	dimension detect.Dimension
	factor    float64 // to the canonical unit
	per       string  // written after the unit
}

// unitSuffixes, longest first where one ends in another.
var unitSuffixes = []unitSuffix{
	{"_l_per_min", detect.FlowRate, 1, ""},
	{"_l_per_h", detect.Volume, 1, " an hour"}, {"_l_per_hour", detect.Volume, 1, " an hour"},
	{"_l_per_day", detect.Volume, 1, " a day"}, {"_litres_per_day", detect.Volume, 1, " a day"},
	{"_l_per_week", detect.Volume, 1, " a week"}, {"_kg_per_week", detect.Mass, 1, " a week"},
	{"_kg_per_day", detect.Mass, 1, " a day"}, {"_mm_per_day", detect.Length, 1, " a day"}, {"_mm_per_h", detect.Length, 1, " an hour"},
	{"_mg_per_l", detect.Hardness, 1, ""}, {"_litres", detect.Volume, 1, ""}, {"_l", detect.Volume, 1, ""},
	{"_mm", detect.Length, 1, ""}, {"_kg", detect.Mass, 1, ""}, {"_kpa", detect.Pressure, 1, ""}, {"_w", detect.Power, 1, ""},
}

// timeSuffixes are lengths of time.
var timeSuffixes = []struct {
	ending string
	unit   time.Duration
}{
	{"_seconds", time.Second}, {"_s", time.Second}, {"_minutes", time.Minute}, {"_min", time.Minute},
	{"_hours", time.Hour}, {"_h", time.Hour}, {"_days", 24 * time.Hour},
}

// facts writes the evidence in the household's units, in the order of names.
func (r reader) facts(e detect.Evidence) []fact {
	out := make([]fact, 0, len(e))
	for name, value := range e {
		out = append(out, r.fact(name, value))
	}
	slices.SortFunc(out, func(a, b fact) int { return strings.Compare(a.Name, b.Name) })
	return out
}

func (r reader) fact(name string, value any) fact {
	v, isNumber := asNumber(value)
	if !isNumber {
		return fact{spoken(name), r.words(value)}
	}
	for _, u := range unitSuffixes {
		if rest, ok := strings.CutSuffix(name, u.ending); ok {
			return fact{spoken(rest), r.amount(v*u.factor, u.dimension) + u.per}
		}
	}
	for _, u := range timeSuffixes {
		if rest, ok := strings.CutSuffix(name, u.ending); ok {
			return fact{spoken(rest), span(time.Duration(v * float64(u.unit)))}
		}
	}
	if rest, ok := strings.CutSuffix(name, "_percent"); ok {
		return fact{spoken(rest), number(v) + " %"}
	}
	for _, ending := range []string{"share", "probability", "confidence"} {
		if strings.HasSuffix(name, ending) {
			return fact{spoken(name), number(v*100) + " %"}
		}
	}
	return fact{spoken(name), number(v)}
}

// asNumber reads a number however it was kept.
func asNumber(value any) (float64, bool) {
	switch v := value.(type) {
	case float64:
		return v, true
	case float32:
		return float64(v), true
	case int:
		return float64(v), true
	case int64:
		return float64(v), true
	}
	return 0, false
}

// words writes what is not a number: times in the home's clock, identifiers in
// plain letters.
func (r reader) words(value any) string {
	switch v := value.(type) {
	case nil:
		return noNumber
	case time.Time:
		return r.moment(v)
	case time.Duration:
		return span(v)
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	case []any:
		parts := make([]string, len(v))
		for i, part := range v {
			parts[i] = r.words(part)
		}
		return strings.Join(parts, ", ")
	case string:
		if t, err := time.Parse(time.RFC3339Nano, v); err == nil {
			return r.moment(t)
		}
		return strings.ReplaceAll(v, "_", " ")
	}
	if v, ok := asNumber(value); ok {
		return number(v)
	}
	return fmt.Sprint(value)
}

func spoken(name string) string {
	return sentenceCase(strings.ReplaceAll(name, "_", " "))
}
