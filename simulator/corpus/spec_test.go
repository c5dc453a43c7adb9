package corpus

import (
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

func TestReadCorpus(t *testing.T) {
	s, err := Read("c.yaml", strings.NewReader(`corpus: small
homes: 3
interval: 5 min
start: 2025-10-20
population: {difficult: 25 %}
faults: {mix: "flapper_leak:0.3+use_grew,salt_empty", onset: 20 % to 30 %, repaired: 100 %}
sensors: {pulses: [1 gal], outages: 2, outage: 3 h}
`))
	if err != nil {
		t.Fatal(err)
	}
	if s.Homes != 3 || time.Duration(s.Interval) != 5*time.Minute || s.Population.Difficult != 0.25 || s.Days != defaultDays {
		t.Errorf("%+v", s)
	}
	if d := s.Faults.Mix.of(3, [4]float64{}); len(d) != 1 || d[0].Cause != detect.SaltEmpty {
		t.Errorf("fourth home gets %v", d)
	}
	if d := s.Faults.Mix.of(0, [4]float64{}); len(d) != 2 || d[0].Severity != 0.3 {
		t.Errorf("first home gets %v", d)
	}
}

func TestCorpusMistakesNameFileAndLine(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "c.yaml: empty"},
		{"corpus: x\n", "c.yaml: homes"},
		{"homes: 1\ncolour: blue\n", `c.yaml:2: unknown key "colour"`},
		{"homes: 1\nfaults:\n  mix: each\n  severity: 0.2 to 1.5\n", "c.yaml:4: "},
		{"homes: 1\nfaults: {mix: rust}\n", `c.yaml:2: unknown fault "rust"`},
		{"homes: 1\n\ninterval: 10\n", "c.yaml:3: "},
		{"homes: one\n", "c.yaml:1: "},
		{"homes: 1\nsignals: everything\n", "c.yaml:2: unknown signal"},
		{"homes: 1\nstart: tomorrow\n", "c.yaml:2: "},
		{"homes: 1\nsensors: {fault: sulking}\n", "sulking"},
		{"homes: 1\ninterval: 2 h\n", "interval"},
	} {
		_, err := Read("c.yaml", strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.text, err, c.want)
		}
	}
}

func TestAdhoc(t *testing.T) {
	if _, err := Adhoc(2, 30, 9, "each"); err != nil {
		t.Error(err)
	}
	s, err := Adhoc(4, 30, 9, "flapper_leak, none")
	if err != nil || len(s.Faults.Mix.of(1, [4]float64{})) != 0 || len(s.Faults.Mix.of(2, [4]float64{})) != 1 {
		t.Errorf("every second home is well: %+v %v", s.Faults.Mix, err)
	}
	for _, bad := range []string{"", "each,none", "none+flapper_leak", "flapper_leak:2", "flapper_leak:0"} {
		if _, err := Adhoc(2, 30, 9, bad); err == nil {
			t.Errorf("%q passes as a mix", bad)
		}
	}
}
