package web

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/cause"
)

func inUnits(u detect.Units) reader {
	return asker{}.reads(detect.Home{Units: u, Location: time.UTC})
}

func unspaced(s string) string { return strings.ReplaceAll(s, space, " ") }

// The conversions are those of NIST Special Publication 811 (2008), appendix
// B.8: 1 gal (US) = 3.785412 L, 1 in = 25.4 mm, 1 lb = 0.4535924 kg, 1 psi =
// 6.894757 kPa; degF = 1.8 degC + 32.
func TestAmountsInBothSystems(t *testing.T) {
	metric, us := inUnits(detect.Metric), inUnits(detect.US)
	for _, c := range []struct {
		value      float64
		dimension  detect.Dimension
		metric, us string
	}{
		{3.785412, detect.Volume, "3.79 L", "1 gal"},
		{37854.12, detect.Volume, "37,854 L", "10,000 gal"},
		{0.05, detect.FlowRate, "0.05 L/min", "0.013 gal/min"},
		{254, detect.Length, "254 mm", "10 in"},
		{2.7, detect.Mass, "2.7 kg", "5.95 lb"},
		{413.68542, detect.Pressure, "414 kPa", "60 psi"},
		{49, detect.Temperature, "49 °C", "120 °F"},
		{0, detect.Volume, "0 L", "0 gal"},
		{math.NaN(), detect.Volume, "not measured", "not measured"},
	} {
		if got := unspaced(metric.amount(c.value, c.dimension)); got != c.metric {
			t.Errorf("%v in metric is %q, want %q", c.value, got, c.metric)
		}
		if got := unspaced(us.amount(c.value, c.dimension)); got != c.us {
			t.Errorf("%v in US customary is %q, want %q", c.value, got, c.us)
		}
	}
}

func TestNumbers(t *testing.T) {
	for v, want := range map[float64]string{0.0001: "0", 0.0123: "0.012", 0.31: "0.31", 1.006: "1.01", 9.96: "10", 99.96: "100", 999.6: "1,000", 1234567: "1,234,567", -1234: "-1,234", 12.04: "12"} {
		if got := inUnits(detect.Metric).Number(v); got != want {
			t.Errorf("%v is written %q, want %q", v, got, want)
		}
	}
}

func TestSpans(t *testing.T) {
	for d, want := range map[time.Duration]string{-time.Second: "0 s", 40 * time.Second: "40 s", 90 * time.Minute: "1 h 30 min", 2 * time.Hour: "2 h",
		24 * time.Hour: "1 day", 75 * time.Hour: "3 days 3 h", 59 * time.Minute: "59 min"} {
		if got := unspaced(inUnits(detect.Metric).span(d)); got != want {
			t.Errorf("%v is written %q, want %q", d, got, want)
		}
	}
}

func TestEvidenceIsRead(t *testing.T) {
	r := inUnits(detect.Metric)
	for _, c := range []struct {
		name  string
		value any
		want  fact
	}{
		{"size_l_per_min", 0.31, fact{Name: "How much water runs", Value: "0.31 L/min"}},
		{"litres_per_day", 446.0, fact{Name: "Water lost in a day", Value: "446 L a day"}},
		{"drawn_l", 2.4, fact{Name: "Brine taken in the last regeneration", Value: "2.4 L", Expert: true}},
		{"excess_salt_kg_per_year", 31, fact{Name: "Salt used too much", Value: "31 kg a year"}},
		{"level_mm", int64(120), fact{Name: "Brine level now", Value: "120 mm"}},
		{"lasted_min", 95.0, fact{Name: "Running for", Value: "1 h 35 min"}},
		{"still_hours", 30.0, fact{Name: "The meter has stood still for", Value: "1 day 6 h"}},
		{"drawn_share", 0.25, fact{Name: "Brine taken in the last regeneration against the usual", Value: "25 %"}},
		{"regenerations", 3.0, fact{Name: "Regenerations in which it showed", Value: "3"}},
		{"pattern", "steady", fact{Name: "How it runs", Value: "evenly"}},
		{"signals", "brine level, inlet_flow", fact{Name: "Which sensors", Value: "the level in the brine tank, the house meter"}},
		{"seen", "2026-03-14T02:10:00Z", fact{Name: "Seen", Value: "Sat 14 Mar, 02:10", Expert: true}},
		{"manual", true, fact{Name: "Manual", Value: "yes", Expert: true}},
		{"missing", []any{"refill", 2.0}, fact{Name: "Missing", Value: "refill, 2", Expert: true}},
		{"nothing", nil, fact{Name: "Nothing", Value: "not measured", Expert: true}},
	} {
		got := r.fact(c.name, c.value)
		got.Value = unspaced(got.Value)
		if got != c.want {
			t.Errorf("%s=%v is read %+v, want %+v", c.name, c.value, got, c.want)
		}
	}
}

func TestEveryIdentifierHasItsWords(t *testing.T) {
	for _, k := range detect.Kinds() {
		if !inUnits(detect.Metric).Has("kind." + string(k)) {
			t.Errorf("finding %s has no title", k)
		}
	}
	for kind := range seenIn {
		if !slices.Contains(detect.Kinds(), kind) {
			t.Errorf("%s is marked in pictures but is no finding", kind)
		}
	}
	for _, c := range detect.Causes() {
		if text := cause.Lookup(c); text.Title == "" || text.Title == string(c) || text.Check == "" {
			t.Errorf("cause %s has no words: %+v", c, text)
		}
	}
}

func TestCertaintyIsNotRoundedUp(t *testing.T) {
	for p, want := range map[float64]int{0: 0, 0.001: 1, 0.5: 50, 0.999: 99, 1: 100} {
		if got := percent(p); got != want {
			t.Errorf("%v is %d %%, want %d", p, got, want)
		}
	}
	words := map[float64]string{0.01: "very unlikely", 0.19: "very unlikely", 0.2: "unlikely", 0.45: "about even", 0.55: "likely", 0.8: "very likely", 0.95: "almost certain", 1: "almost certain"}
	for p, want := range words {
		if got := inUnits(detect.Metric).likelihood(p); got != want {
			t.Errorf("%v is %q, want %q", p, got, want)
		}
	}
}
