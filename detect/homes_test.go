package detect

import (
	"math"
	"strings"
	"testing"
	"time"
)

const millLane = `homes:
  - id: mill-lane-4
    name: "4 Mill Lane"
    timezone: Europe/Dublin
    units: metric
    occupants: 3
    water: {hardness: 300 mg/L, iron: 0.2 mg/L, manganese: 0 mg/L}
    softener:
      capacity: 20000 grains
      resin: 1 ft3
      salt_dose: 6 lb
      control: metered_delayed
      regeneration_time: "02:00"
      days_override: 14
      reserve: 20 %
      refill: after
      tanks: single
      cycle:
        - {phase: backwash, minutes: 10, flow: 8 L/min}
        - {phase: brine_draw, minutes: 60, flow: 1.9 L/min}
        - {phase: fast_rinse, minutes: 6, flow: 2.1 gpm}
        - {phase: refill, minutes: 4, flow: 1.9 L/min}
    brine_tank: {diameter: 460 mm, height: 840 mm, grid: 0 mm, float: 350 mm, salt_void: 0.42}
    meters:
      inlet: {pulse: 0.1 L, starting_flow: 0.1 L/min}
      service: {pulse: 0.1 L, starting_flow: 0.1 L/min, position: downstream}
    bypassed: [irrigation]
    costs: {water: 3.20 /m3, salt: 0.60 /kg, currency: EUR}
    away: [{from: 2026-08-01, to: 2026-08-15}]
  - id: two
    timezone: America/Denver
`

func TestReadHomes(t *testing.T) {
	homes, err := ReadHomes("homes.yaml", strings.NewReader(millLane))
	if err != nil || len(homes) != 2 {
		t.Fatal(homes, err)
	}
	h := homes[0]
	// 20,000 grains in 1 ft3 is 0.9145 eq/L: Virginia 12 VAC 5-590-900(D), converted by atomic masses.
	near(t, "capacity", h.Softener.Capacity, 0.9145, 1e-4)
	near(t, "salt dose", h.Softener.SaltDose, 2.72155, 1e-5)
	near(t, "fast rinse", h.Softener.Cycle[2].Flow, 7.94936, 1e-5)
	if !h.Meters.Service.Downstream || h.Meters.Drain != nil || h.Softener.ProgrammeLength() != 80*time.Minute {
		t.Errorf("%+v", h)
	}
	// The last local day away counts whole, and Dublin is an hour ahead of UTC in August.
	if got := h.Away[0].To.UTC().Format(time.RFC3339); got != "2026-08-15T23:00:00Z" {
		t.Error("away until", got)
	}
	if want := DefaultHome("two", h.Location).Softener.SaltDose; homes[1].Softener.SaltDose != want || homes[1].Name != "two" {
		t.Errorf("defaults: %+v", homes[1])
	}
}

// Whatever is wrong is named with file, line and key, all of it in one go.
func TestReadHomesErrors(t *testing.T) {
	head := "homes:\n  - id: a\n    timezone: Europe/Dublin\n"
	for _, c := range []struct{ yaml, want string }{
		{"", "empty"},
		{"homes: []\n", "no homes"},
		{"homes:\n  - timezone: Europe/Dublin\n", "x:2: homes[0].id: missing"},
		{"homes:\n  - id: a\n", "x:2: homes[0].timezone: missing"},
		{"homes:\n  - id: A b\n    timezone: UTC\n", "x:2: homes[0].id"},
		{"homes:\n  - id: a\n    timezone: Middle/Earth\n", `x:3: homes[0].timezone: "Middle/Earth"`},
		{head + "    colour: blue\n", "x:4: homes[0].colour: unknown key"},
		{head + "    water: {hardness: 12 stone}\n", `x:4: homes[0].water.hardness: unknown unit "stone"`},
		{head + "    softener: {resin: 28}\n", "has no unit"},
		{head + "    softener: {cycle: [{phase: spin, minutes: 3}]}\n", `"spin"`},
		{head + "    softener: {capacity: 90000 grains}\n", "eq per litre"},
		{head + "    softener: {regeneration_time: 25:00}\n", "hour of the day"},
		{head + "    softener: {reserve: 200 %}\n", "outside"},
		{head + "    meters: {inlet: {position: upstream}}\n", "x:4: homes[0].meters.inlet.position: unknown key"},
		{head + "    away: [{from: 2026-08-09, to: 2026-08-01}]\n", "in order"},
		{head + head[7:], "listed twice"},
		{"homes:\n  - id: [\n", "x:"},
	} {
		_, err := ReadHomes("x", strings.NewReader(c.yaml))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: got %v, want %q", c.yaml, err, c.want)
		}
	}
	_, err := ReadHomes("x", strings.NewReader(head+"    colour: blue\n    shape: 1\n"))
	if n := strings.Count(err.Error(), "unknown key"); n != 2 {
		t.Errorf("%d of 2 errors reported: %v", n, err)
	}
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if math.Abs(got-want) > rel*math.Abs(want) {
		t.Errorf("%s: %v, want %v within %g", what, got, want, rel)
	}
}

// The published factors: NIST SP 811 (2008), B.8, but where another source stands beside the row.
func TestConversionFactors(t *testing.T) {
	for _, c := range []struct {
		text string
		d    Dimension
		want float64
		rel  float64
	}{
		{"1 gal", Volume, 3.785412, 1e-7},
		{"1 ft3", Volume, 28.31685, 1e-6},
		{"1 gpm", FlowRate, 6.309020e-5 * 60000, 1e-6}, // 6.30902e-5 m3/s
		{"1 L/s", FlowRate, 60, 0},
		{"1 lb", Mass, 0.45359237, 1e-9},
		{"1 psi", Pressure, 6.894757, 1e-6},
		{"1 in", Length, 25.4, 0},
		{"212 degF", Temperature, 100, 1e-12},
		{"1 gpg", Hardness, 17.118, 5e-5},         // 17.1 published in WC&P
		{"1 mmol/L", Hardness, 100.0869, 1e-9},    // molar mass of CaCO3, from atomic masses
		{"21868.8 grains/ft3", Exchange, 1, 1e-4}, // from atomic masses
		{"1 degdH", Hardness, 17.848, 1e-3},       // 10 mg/L CaO: 10 x 100.0869/56.0774, from atomic masses
		{"3 /gal", PerVolume, 3 / 3.785412e-3, 1e-6},
		{"20 %", Fraction, 0.2, 1e-12},
		{"300", Hardness, 300, 0},
		{"1e2 mm", Length, 100, 0},
	} {
		got, err := ParseQuantity(c.text, c.d)
		if err != nil {
			t.Error(c.text, err)
			continue
		}
		near(t, c.text, got, c.want, c.rel)
	}
}

func TestConversionRoundTrip(t *testing.T) {
	for d, units := range conversions {
		for unit := range units {
			there, err := Convert(7.25, unit, d)
			back, err2 := FromCanonical(there, unit, d)
			if err != nil || err2 != nil || math.Abs(back-7.25) > 1e-12*7.25 {
				t.Error(d, unit, back, err, err2)
			}
		}
		if c := canonical[d]; units[c] != (conversion{1, 0}) {
			t.Errorf("%s: %q is not canonical", d, c)
		}
	}
}
