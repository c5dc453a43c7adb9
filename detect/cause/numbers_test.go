package cause

import (
	"math"
	"slices"
	"strings"
	"testing"

	"brinebell/detect"
	"brinebell/detect/cause/trait"
)

// drawn is a finding of too little brine with these numbers.
func drawn(numbers detect.Evidence) Evidence {
	return Evidence{Findings: []Finding{{detect.SaltDrawLow, numbers}}}
}

// What separates the brine side's causes on a technician's bench separates them
// here (common practice, no source).
func TestNumbersTellTheBrineSideApart(t *testing.T) {
	usual := detect.Evidence{"refill_share": 1.0, "refill_metered_share": 1.0, "pores_share": 1.0, "refill_minutes_share": 1.0, "nozzle_pace_share": 1.0, "backwash_share": 1.0, "left_share": 0.02, "full_share": 0.02, "salt_high_share": 0.5}
	for want, changed := range map[detect.Cause]detect.Evidence{
		detect.InjectorClogged: {"drawn_share": 0.6, "draw_pace_share": 0.45, "nozzle_pace_share": 0.55, "left_share": 0.35, "full_share": 0.4},
		detect.DrainRestricted: {"drawn_share": 0.6, "draw_pace_share": 0.45, "nozzle_pace_share": 0.75, "backwash_share": 0.55, "left_share": 0.35, "full_share": 0.4},
		detect.BrineLineAir:    {"drawn_share": 0.35, "draw_pace_share": 0.25, "refill_share": 0.97, "left_share": 0.6, "full_share": 0.6},
		detect.SaltMush:        {"drawn_share": 0.75, "draw_pace_share": 0.4, "refill_share": 1.25, "pores_share": 1.25, "left_share": 0.3, "full_share": 0.5},
		detect.FloatStuck:      {"drawn_share": 0.65, "draw_pace_share": 0.7, "refill_share": 0.65, "refill_metered_share": 0.65},
		detect.SettingDose:     {"drawn_share": 0.65, "draw_pace_share": 1.0, "refill_share": 0.65, "refill_metered_share": 0.65, "refill_minutes_share": 0.65},
		detect.SaltBridge:      {"drawn_share": 0.45, "draw_pace_share": 0.45, "refill_share": 0.45, "pores_share": 0.45, "salt_sunk_share": 0.05, "salt_high_share": 0.6},
		detect.SaltEmpty:       {"drawn_share": 0.45, "draw_pace_share": 0.45, "refill_share": 0.45, "pores_share": 0.45, "salt_sunk_share": 0.05, "salt_high_share": 0.05},
	} {
		e := detect.Evidence{}
		for _, from := range []detect.Evidence{usual, changed} {
			for k, v := range from {
				e[k] = v
			}
		}
		if got := Standard().Blame(detect.SaltDrawLow, drawn(e)); got[0].Cause != want || got[0].Probability < 0.5 {
			t.Errorf("%s: %v", want, got[:min(3, len(got))])
		}
	}
}

// A number counts once, whichever findings carry it; one that says the same
// better takes another's place; what no table knows changes nothing.
func TestANumberCountsOnce(t *testing.T) {
	m := Standard()
	one := detect.Evidence{"drawn_share": 0.4, "backwash_share": 0.5}
	base := m.jointly(Evidence{Findings: []Finding{{detect.SaltDrawLow, one}, {detect.BrineHigh, nil}}})
	for name, e := range map[string]Evidence{
		"twice":   {Findings: []Finding{{detect.SaltDrawLow, one}, {detect.BrineHigh, detect.Evidence{"drawn_share": 0.4}}}},
		"worse":   {Findings: []Finding{{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.4, "backwash_share": 0.5, "drain_share": 0.2}}, {detect.BrineHigh, nil}}},
		"unknown": {Findings: []Finding{{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.4, "backwash_share": 0.5, "moon": 0.2}}, {detect.BrineHigh, nil}}},
		"no more": {Findings: []Finding{{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.4, "backwash_share": 0.5, "full_share": math.NaN()}}, {detect.BrineHigh, nil}}},
	} {
		for h, v := range m.jointly(e) {
			if math.Abs(v-base[h]) > 1e-12 {
				t.Errorf("%s: %v is %v, was %v", name, m.space.All[h], v, base[h])
				break
			}
		}
	}
}

// What a number is told to weigh is what leaving it out does to the odds.
func TestNumbersWeighAsTold(t *testing.T) {
	m := Standard()
	e := drawn(detect.Evidence{"drawn_share": 0.55, "nozzle_pace_share": 0.6, "backwash_share": 1.02})
	less := drawn(detect.Evidence{"drawn_share": 0.55, "backwash_share": 1.02})
	name, _ := FactOf("nozzle_pace_share")
	d := m.Diagnose(e, Technician)
	i := slices.IndexFunc(d.Causes, func(r Ranked) bool { return r.Cause == detect.InjectorClogged })
	k := slices.IndexFunc(d.Causes[i].For, func(w Weight) bool { return strings.HasPrefix(w.Says, lower(name.Name)) })
	if k < 0 {
		t.Fatalf("%+v", d.Causes[i].For)
	}
	before := m.space.Marginals(m.jointly(less))[slices.Index(m.names, detect.InjectorClogged)]
	if got, want := d.Causes[i].For[k].Ratio, odds(d.Causes[i].Probability)/odds(before); math.Abs(got/want-1) > 1e-6 {
		t.Errorf("told %v, leaving it out %v", got, want)
	}
}

// Every trait that is kept is weighed, and has its place in words.
func TestEveryTraitIsWeighed(t *testing.T) {
	for _, key := range trait.Keys() {
		if !slices.ContainsFunc(Standard().measured, func(n *measured) bool { return n.key == key }) {
			t.Errorf("%s is in no row of numbers.yaml", key)
		}
		if _, ok := FactOf(key); !ok {
			t.Errorf("%s has no name", key)
		}
	}
}
