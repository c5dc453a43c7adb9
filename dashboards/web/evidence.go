package web

import (
	"fmt"
	"maps"
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
	per       string // written after the unit
}

// unitSuffixes, longest first where one ends in another.
var unitSuffixes = []unitSuffix{
	{"_l_per_min", detect.FlowRate, ""},
	{"_l_per_h", detect.Volume, " an hour"}, {"_l_per_hour", detect.Volume, " an hour"},
	{"_l_per_day", detect.Volume, " a day"}, {"_litres_per_day", detect.Volume, " a day"},
	{"_l_per_week", detect.Volume, " a week"}, {"_kg_per_week", detect.Mass, " a week"},
	{"_kg_per_day", detect.Mass, " a day"}, {"_mm_per_day", detect.Length, " a day"}, {"_mm_per_h", detect.Length, " an hour"},
	{"_mg_per_l", detect.Hardness, ""}, {"_litres", detect.Volume, ""}, {"_l", detect.Volume, ""},
	{"_mm", detect.Length, ""}, {"_kg", detect.Mass, ""}, {"_kpa", detect.Pressure, ""}, {"_w", detect.Power, ""},
}

// timeSuffixes are lengths of time.
var timeSuffixes = []struct {
	ending string
	unit   time.Duration
}{
	{"_seconds", time.Second}, {"_s", time.Second}, {"_minutes", time.Minute}, {"_min", time.Minute},
	{"_hours", time.Hour}, {"_h", time.Hour}, {"_days", 24 * time.Hour},
}

// facts writes the evidence in the household's units, in the order of its keys.
func (r reader) facts(e detect.Evidence) []fact {
	out := make([]fact, 0, len(e))
	for _, name := range slices.Sorted(maps.Keys(e)) {
		out = append(out, r.fact(name, e[name]))
	}
	return out
}

func (r reader) fact(name string, value any) fact {
	v, isNumber := asNumber(value)
	if !isNumber {
		return fact{spoken(name), r.words(value)}
	}
	for _, u := range unitSuffixes {
		if rest, ok := strings.CutSuffix("_"+name, u.ending); ok {
			return fact{measured(rest, u.dimension), r.amount(v, u.dimension) + u.per}
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

// measured names what was measured; a name that was only a unit is told by what
// the unit measures.
func measured(rest string, d detect.Dimension) string {
	if rest = strings.TrimPrefix(rest, "_"); rest != "" {
		return spoken(rest)
	}
	return map[detect.Dimension]string{detect.Volume: "Water", detect.FlowRate: "Flow", detect.Mass: "Salt", detect.Length: "Level",
		detect.Pressure: "Pressure", detect.Power: "Power", detect.Hardness: "Hardness"}[d]
}

func spoken(name string) string {
	return sentenceCase(strings.ReplaceAll(name, "_", " "))
}
