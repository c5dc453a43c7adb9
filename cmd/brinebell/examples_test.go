package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"brinebell/collector/adapter"
	"brinebell/collector/senml"
	"brinebell/detect"
)

const examples = "../../testdata/examples"

// The homes of the example are in US units, and become what a person who knows
// both would write. Factors: NIST SP 811, appendix B.8; a grain a gallon is
// 17.118 mg/L.
func TestExampleHomes(t *testing.T) {
	homes, err := readHomes(filepath.Join(examples, "homes.yaml"), func(n string) { t.Error(n) })
	if err != nil || len(homes) != 2 {
		t.Fatal(len(homes), err)
	}
	h := homes[0]
	for name, pair := range map[string][2]float64{
		"hardness, mg/L":        {h.Water.Hardness, 18 * 17.118},
		"resin, L":              {h.Softener.Resin, 42.475},
		"salt, kg":              {h.Softener.SaltDose, 5.4431},
		"capacity, eq/L":        {h.Softener.Capacity, 36000 * 0.06479891 / 50.04345 / 42.475},
		"brine draw, L/min":     {h.Softener.Cycle[1].Flow, 1.8927},
		"tank, mm":              {h.BrineTank.Diameter, 457.2},
		"pulse, L":              {h.Meters.Inlet.Pulse, 0.37854},
		"water, USD a m3":       {h.Costs.Water, 3.1701},
		"salt, USD a kg":        {h.Costs.Salt, 0.66139},
		"the second's pulse, L": {homes[1].Meters.Service.Pulse, 3.7854},
	} {
		if math.Abs(pair[0]/pair[1]-1) > 1e-4 {
			t.Errorf("%s: %g, want %g", name, pair[0], pair[1])
		}
	}
	if h.Units != detect.US || !homes[1].Meters.Service.Downstream {
		t.Errorf("%+v", h)
	}
}

// The messages that the example's README sends become the readings they mean.
func TestExampleAdapters(t *testing.T) {
	c, err := readConfig(filepath.Join(examples, "brinebell.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, m := range []struct {
		topic, payload string
		want           map[detect.Signal]float64
	}{
		{"plumbing/cedar-court-3/main", `{"total_gal": 18230.4, "drain_gal": 912.6, "at": 1767225600}`,
			map[detect.Signal]float64{detect.InletVolume: 18230.4 * 3.785411784, detect.DrainVolume: 912.6 * 3.785411784}},
		{"tanks/3/brine", "18.5", map[detect.Signal]float64{detect.BrineLevel: 11.5 * 25.4}},
		{"sockets/cedar-court-3/softener/status", `{"energy": {"power": 3.1}}`, map[detect.Signal]float64{detect.ValvePower: 3.1}},
	} {
		got := 0
		for _, config := range c.Adapters {
			a, err := adapter.New(config)
			if err != nil {
				t.Fatal(err)
			}
			home, ok := a.Match(m.topic)
			if !ok {
				continue
			}
			r, err := a.Decode(home, []byte(m.payload), now)
			if want, known := m.want[r.Signal]; err != nil || !known || r.Home != "cedar-court-3" || math.Abs(r.Value-want) > 1e-6 || !r.Time.Equal(now) {
				t.Errorf("%s: %v %v", m.topic, r, err)
			}
			got++
		}
		if got != len(m.want) {
			t.Errorf("%s: %d readings, want %d", m.topic, got, len(m.want))
		}
	}
}

// What the README shows is read by what reads the real thing.
func TestReadmeExamples(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := map[string][]string{}
	for _, m := range regexp.MustCompile("(?s)```(yaml|json)\n(.*?)```").FindAllStringSubmatch(string(text), -1) {
		blocks[m[1]] = append(blocks[m[1]], m[2])
	}
	if len(blocks["yaml"]) < 2 || len(blocks["json"]) < 1 {
		t.Fatalf("%d YAML and %d JSON examples", len(blocks["yaml"]), len(blocks["json"]))
	}
	for _, b := range blocks["yaml"] {
		if strings.Contains(b, "timezone:") {
			if homes, err := readHomes(writeFile(t, "homes.yaml", b), func(n string) { t.Error(n) }); err != nil || len(homes) == 0 {
				t.Errorf("%d homes: %v", len(homes), err)
			}
		} else if _, err := readConfig(writeFile(t, "c.yaml", b)); err != nil {
			t.Error(err)
		}
	}
	for _, b := range blocks["json"] {
		var d senml.Decoder
		pack, err := d.JSON([]byte(b), time.Now())
		if err != nil || len(pack.Bad) > 0 || len(pack.Readings) < 2 {
			t.Errorf("%+v %v", pack, err)
		}
	}
}
