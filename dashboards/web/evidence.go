package web

import (
	"fmt"
	"math"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// fact is one line of evidence, ready to be read.
type fact struct {
	Name, Value string
	Expert      bool // for technicians
}

// measure says how a unit of the evidence is shown: by a dimension of the
// household's units, with what follows it, or as a length of time.
type measure struct {
	dimension detect.Dimension
	per       string // key of what follows the unit
	time      time.Duration
}

// measures are the units of package cause.
var measures = map[cause.Unit]measure{
	"L": {dimension: detect.Volume}, "L/min": {dimension: detect.FlowRate}, "L/h": {dimension: detect.Volume, per: "per.hour"},
	"L/day": {dimension: detect.Volume, per: "per.day"}, "L/week": {dimension: detect.Volume, per: "per.week"},
	"kg": {dimension: detect.Mass}, "kg/week": {dimension: detect.Mass, per: "per.week"}, "kg/year": {dimension: detect.Mass, per: "per.year"},
	"mm": {dimension: detect.Length}, "mm/h": {dimension: detect.Length, per: "per.hour"}, "mm/day": {dimension: detect.Length, per: "per.day"},
	"kPa": {dimension: detect.Pressure}, "W": {dimension: detect.Power}, "mg/L": {dimension: detect.Hardness}, "uS/cm": {dimension: detect.Conductivity},
	"degC": {dimension: detect.Temperature},
	"s":    {time: time.Second}, "min": {time: time.Minute}, "h": {time: time.Hour}, "days": {time: 24 * time.Hour},
}

// facts writes the evidence in the reader's units, the most telling first.
func (r reader) facts(e detect.Evidence) []fact {
	out := make([]fact, 0, len(e))
	for _, f := range cause.SortedFacts(e) {
		out = append(out, r.fact(f.Key, e[f.Key]))
	}
	return out
}

// fact is one key of the evidence with its value.
func (r reader) fact(key string, value any) fact {
	about, known := cause.FactOf(key)
	out := fact{Name: sentenceCase(r.Or("fact."+key, about.Name)), Value: r.valueOf(about, value), Expert: about.Expert || !known}
	return out
}

func (r reader) valueOf(about cause.Fact, value any) string {
	v, isNumber := asNumber(value)
	if !isNumber {
		return r.wordOf(about, value)
	}
	switch about.Unit {
	case "share":
		return r.share(v)
	case "money/h":
		return r.Fixed(v, 2) + r.Say("per.hour")
	case "g":
		return r.Number(v) + space + "g"
	case "times":
		return r.Say("per.times", "n", r.Number(v))
	}
	m, ok := measures[about.Unit]
	switch {
	case !ok:
		return r.Number(v)
	case m.time > 0:
		return r.span(time.Duration(v * float64(m.time)))
	case m.per != "":
		return r.amount(v, m.dimension) + r.Say(m.per)
	}
	return r.amount(v, m.dimension)
}

// share writes a share as per cent: whole ones, but below ten, where a tenth
// tells something.
func (r reader) share(v float64) string {
	decimals := 0
	if math.Abs(v) < 0.0995 {
		decimals = 1
	}
	return r.Rounded(v*100, decimals) + space + "%"
}

// wordOf says a value that is a word in plain language.
func (r reader) wordOf(about cause.Fact, value any) string {
	word, isWord := value.(string)
	if !isWord {
		return r.words(value)
	}
	if about.Key == "signals" || about.Key == "between" {
		return r.signalNames(word)
	}
	key := "fact." + about.Key + "." + strings.ReplaceAll(word, " ", "_")
	if said, ok := about.Says[word]; ok {
		return r.Or(key, said)
	}
	return r.Or(key, r.words(value))
}

// signalNames says a list of signals as a person knows them.
func (r reader) signalNames(list string) string {
	names := strings.Split(list, ",")
	for i, n := range names {
		id := strings.ReplaceAll(strings.TrimSpace(n), " ", "_")
		names[i] = r.Or("signal."+id, strings.ReplaceAll(id, "_", " "))
	}
	return strings.Join(names, ", ")
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
		return r.Say("number.none")
	case time.Time:
		return r.moment(v)
	case time.Duration:
		return r.span(v)
	case bool:
		return r.Say(map[bool]string{true: "word.yes", false: "word.no"}[v])
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
		return r.Number(v)
	}
	return fmt.Sprint(value)
}
