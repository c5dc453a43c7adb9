package cause

import (
	"bytes"
	"encoding/gob"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

func first(t *testing.T, e Evidence) Ranked {
	t.Helper()
	if err := Standard().Validate(e); err != nil {
		t.Fatal(err)
	}
	d := Standard().Diagnose(e, Technician)
	if len(d.Causes) == 0 {
		t.Fatal("no cause")
	}
	return d.Causes[0]
}

// A technician would agree (common practice, no source).
func TestDiagnoseAsATechnicianWould(t *testing.T) {
	yes := func(ids ...string) map[string]bool {
		m := map[string]bool{}
		for _, id := range ids {
			m[id] = true
		}
		return m
	}
	for name, c := range map[string]struct {
		e    Evidence
		want detect.Cause
	}{
		"dark":               {Evidence{Symptoms: yes("display_dark")}, detect.NoPower},
		"drain heard":        {Evidence{Symptoms: yes("drain_heard")}, detect.SealsWorn},
		"tank full":          {Evidence{Symptoms: yes("tank_full"), Checks: map[string]string{"mark_level": "rose"}}, detect.BrineValveLeak},
		"weak flow":          {Evidence{Symptoms: yes("weak_flow"), Checks: map[string]string{"bypass_flow": "stronger"}}, detect.BedClogged},
		"hard, no salt used": {Evidence{Symptoms: yes("hard_again", "no_salt_used"), Checks: map[string]string{"stick_salt": "crust"}}, detect.SaltBridge},
		"hard, salt gone":    {Evidence{Symptoms: yes("hard_again"), Checks: map[string]string{"look_salt": "empty"}}, detect.SaltEmpty},
		"hard as raw": {Evidence{Symptoms: yes("hard_again"), Checks: map[string]string{"look_salt": "enough", "look_bypass": "open"},
			Hardness: map[detect.Signal]float64{detect.RawHardness: 300, detect.ColdHardness: 295}}, detect.BypassLeftOpen},
		"raw changed": {Evidence{SetFor: 200, Hardness: map[detect.Signal]float64{detect.RawHardness: 390},
			Checks: map[string]string{"ask_supplier": "yes"}}, detect.SourceChanged},
		"suction and drain": {Evidence{Checks: map[string]string{"suction": "weak", "drain_bucket": "little"}}, detect.DrainRestricted},
	} {
		if got := first(t, c.e); got.Cause != c.want {
			t.Errorf("%s: %s %.2f, want %s", name, got.Cause, got.Probability, c.want)
		}
	}
}

// Soft water at the taps speaks against a bypass, hard water for it; hot harder
// than cold speaks for a capacity that ran out early (common practice).
func TestHardnessSpeaks(t *testing.T) {
	probability := func(e Evidence, want detect.Cause) float64 {
		m := Standard()
		return m.space.Marginals(m.posterior(m.pieces(e)))[slices.Index(m.names, want)]
	}
	taps := func(cold, hot float64) map[detect.Signal]float64 {
		return map[detect.Signal]float64{detect.RawHardness: 300, detect.ColdHardness: cold, detect.HotHardness: hot}
	}
	base := probability(Evidence{}, detect.BypassLeftOpen)
	soft, hard := probability(Evidence{Hardness: taps(3, 4)}, detect.BypassLeftOpen), probability(Evidence{Hardness: taps(290, 280)}, detect.BypassLeftOpen)
	if !(soft < base/5 && hard > 5*base) {
		t.Errorf("bypass: soft %v, nothing known %v, hard %v", soft, base, hard)
	}
	reserve := probability(Evidence{Hardness: taps(4, 100)}, detect.SettingReserve)
	if reserve < 3*probability(Evidence{}, detect.SettingReserve) {
		t.Errorf("reserve after hard hot water only: %v", reserve)
	}
	// A value beyond all states tells nothing and breaks nothing.
	if p := probability(Evidence{Hardness: map[detect.Signal]float64{detect.RawHardness: 1e-9, detect.ColdHardness: 1e9}}, detect.SaltEmpty); math.IsNaN(p) {
		t.Error("NaN")
	}
}

// Leaving a piece of evidence out and putting it back multiplies the odds by
// the ratio that is told; the sum of the pieces' logs is the whole.
func TestWeightsAreRatios(t *testing.T) {
	m := Standard()
	e := Evidence{Symptoms: map[string]bool{"hard_again": true, "tank_full": true, "no_salt_used": false}}
	for _, r := range m.Diagnose(e, Technician).Causes {
		for _, w := range append(slices.Clone(r.For), r.Against...) {
			less := Evidence{Symptoms: map[string]bool{}}
			for id, yes := range e.Symptoms {
				less.Symptoms[id] = yes
			}
			for _, s := range m.symptoms {
				if strings.HasSuffix(w.Says, s.Says) {
					delete(less.Symptoms, s.ID)
				}
			}
			before := m.space.Marginals(m.posterior(m.pieces(less)))[slices.Index(m.names, r.Cause)]
			if got := odds(r.Probability) / odds(before); math.Abs(got/w.Ratio-1) > 1e-6 {
				t.Errorf("%s: %s, by leaving out %v", r.Cause, w, got)
			}
		}
	}
}

// The engine's short way and the one with words come to the same.
func TestShortWayIsTheSame(t *testing.T) {
	m := Standard()
	e := Evidence{Age: 5 * 24 * time.Hour, Visible: detect.Kinds(), Findings: []Finding{
		{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.4, "drain_share": 0.9, "refill_share": 1.0}}, {detect.BrineHigh, nil}}}
	long, short := m.posterior(m.pieces(e)), m.jointly(e)
	for h := range long {
		if math.Abs(long[h]-short[h]) > 1e-9 {
			t.Fatalf("%v: %v and %v", m.space.All[h], long[h], short[h])
		}
	}
}

// A finding that could have been raised and was not speaks against its causes,
// the more the longer it had; one that the home cannot see says nothing.
func TestSilenceSpeaks(t *testing.T) {
	share := func(visible []detect.Kind, age time.Duration) float64 {
		e := Evidence{Visible: visible, Age: age, Findings: []Finding{{detect.SaltDrawLow, nil}}}
		for _, c := range Standard().Blame(detect.SaltDrawLow, e) {
			if c.Cause == detect.SaltEmpty {
				return c.Probability
			}
		}
		return 0
	}
	blind, young, old := share(nil, 0), share([]detect.Kind{detect.SaltLow}, time.Hour), share([]detect.Kind{detect.SaltLow}, 30*24*time.Hour)
	if !(blind > young && young > 1.5*old) {
		t.Errorf("salt_empty: blind %v, after an hour %v, after a month %v", blind, young, old)
	}
}

// A tap that was left open is found by whoever comes home; what still runs after a
// week leaks.
func TestWhatLastsIsNotForgotten(t *testing.T) {
	first := func(age time.Duration) detect.Cause {
		return Standard().Blame(detect.Burst, Evidence{Age: age, Findings: []Finding{{detect.Burst, detect.Evidence{"size_l_per_min": 6.0}}}})[0].Cause
	}
	if a, b := first(2*time.Hour), first(7*24*time.Hour); a != detect.FixtureLeftOpen || b != detect.SupplyLineLeak {
		t.Errorf("after two hours %s, after a week %s", a, b)
	}
}

// Two faults at once: each alert is blamed on its own.
func TestTwoFaults(t *testing.T) {
	e := Evidence{Visible: detect.Kinds(), Age: 60 * 24 * time.Hour, Findings: []Finding{
		{detect.NightLeak, detect.Evidence{"pattern": "refilling", "size_l_per_min": 0.3}}, {detect.RegenerationMistimed, nil}}}
	m := Standard()
	if a, b := m.Blame(detect.NightLeak, e)[0], m.Blame(detect.RegenerationMistimed, e)[0]; a.Cause != detect.FlapperLeak || b.Cause != detect.ClockWrong || min(a.Probability, b.Probability) < 0.8 {
		t.Errorf("%v, %v", a, b)
	}
	d := m.Diagnose(e, Household)
	two := []detect.Cause{d.Causes[0].Cause, d.Causes[1].Cause}
	if !slices.Contains(two, detect.FlapperLeak) || !slices.Contains(two, detect.ClockWrong) {
		t.Error(d.Causes)
	}
}

// Iron in the profile speaks for fouled resin and changes nobody's map; none
// says nothing; a test that was made stands.
func TestProfileTells(t *testing.T) {
	e := Evidence{Findings: []Finding{{detect.CapacityShort, nil}}}
	iron := e.WithProfile(detect.Water{Hardness: 300, Iron: 1})
	if e.Checks != nil || iron.SetFor != 300 || Standard().Validate(iron) != nil {
		t.Errorf("%+v, %+v", e, iron)
	}
	if got := Standard().Blame(detect.CapacityShort, iron)[0]; got.Cause != detect.ResinFouled {
		t.Error(got)
	}
	if none := e.WithProfile(detect.Water{}); none.Checks != nil {
		t.Error(none.Checks)
	}
	made := Evidence{Checks: map[string]string{"test_iron": "low"}}.WithProfile(detect.Water{Iron: 1})
	if made.Checks["test_iron"] != "low" {
		t.Error(made.Checks)
	}
}

func TestValidate(t *testing.T) {
	for _, e := range []Evidence{
		{Symptoms: map[string]bool{"hungry": true}}, {Checks: map[string]string{"look_up": "sky"}}, {Checks: map[string]string{"look_salt": "sky"}},
		{Hardness: map[detect.Signal]float64{detect.RawIron: 1}}, {Hardness: map[detect.Signal]float64{detect.RawHardness: -1}},
		{Findings: []Finding{{"flood", nil}}},
	} {
		if Standard().Validate(e) == nil {
			t.Errorf("%+v passed", e)
		}
	}
}

// A session does not touch the caller's evidence, never asks twice, asks a
// household nothing that is a technician's, and ends.
func TestSession(t *testing.T) {
	m := Standard()
	e := Evidence{Symptoms: map[string]bool{"hard_again": true}}
	s := NewSession(m, e, Household)
	asked := map[string]bool{}
	for {
		step := s.Step()
		if step.Verdict != Ask {
			if step.Verdict != CallTechnician && step.Verdict != Nothing || len(asked) > mostChecks || len(asked) == 0 {
				t.Errorf("%s after %d checks", step.Verdict, len(asked))
			}
			break
		}
		c, sum := step.Next.Check, 0.0
		for _, o := range step.Next.Outcomes {
			sum += o.Chance
		}
		if asked[c.ID] || c.Who != Household || math.Abs(sum-1) > 1e-9 {
			t.Fatalf("%s: asked %v, by %s, chances sum to %v", c.ID, asked[c.ID], c.Who, sum)
		}
		asked[c.ID] = true
		if err := s.Tell(c.ID, c.Outcomes[0].ID); err != nil {
			t.Fatal(err)
		}
	}
	if len(e.Checks) != 0 {
		t.Error("the caller's evidence was changed")
	}
	if s.Tell("look_salt", "sky") == nil {
		t.Error("an unknown outcome passed")
	}
	calm := NewSession(m, Evidence{Symptoms: map[string]bool{"hard_again": false, "weak_flow": false}}, Technician)
	for step := calm.Step(); ; step = calm.Step() {
		if step.Verdict != Ask {
			if step.Verdict != Nothing {
				t.Errorf("%s where nothing is wrong", step.Verdict)
			}
			break
		}
		if err := calm.Tell(step.Next.Check.ID, step.Next.Check.Outcomes[0].ID); err != nil {
			t.Fatal(err)
		}
	}
	found := NewSession(m, Evidence{Checks: map[string]string{"look_salt": "empty"}}, Household).Step()
	if found.Verdict != Found || found.First() != detect.SaltEmpty {
		t.Errorf("%s: %v", found.Verdict, found.Causes)
	}
}

// Confirmed causes move the rates as Dirichlet counts do, and undoing undoes.
func TestExperience(t *testing.T) {
	m := Standard()
	var x Experience
	all := 0.0
	for _, rate := range m.rates {
		all += rate
	}
	for range 20 {
		x.Add(detect.InjectorClogged)
	}
	want := all * (m.Strength()*m.Rate(detect.InjectorClogged)/all + 20) / (m.Strength() + 20)
	if got := m.With(x).Rate(detect.InjectorClogged); math.Abs(got-want) > 1e-12 {
		t.Errorf("rate %v, want %v", got, want)
	}
	text, err := json.Marshal(x)
	var read Experience
	if err != nil || json.Unmarshal(text, &read) != nil || read.Confirmed[detect.InjectorClogged] != 20 {
		t.Errorf("%s %v", text, err)
	}
	for range 20 {
		if !x.Undo(detect.InjectorClogged) {
			t.Fatal("nothing to remove")
		}
	}
	if x.Undo(detect.InjectorClogged) || len(x.Confirmed) != 0 {
		t.Error("removed more than was there")
	}
	for c, rate := range m.With(x).rates {
		if math.Abs(rate-m.rates[c]) > 1e-12 {
			t.Errorf("%s: %v after undoing, %v before", m.names[c], rate, m.rates[c])
		}
	}
}

// The same experience has the same bytes, whatever the order it came in, and a
// wrong one is refused.
func TestExperienceIsStable(t *testing.T) {
	encoded := func(causes ...detect.Cause) (text, binary []byte) {
		var x Experience
		for _, c := range causes {
			x.Add(c)
		}
		text, err := json.Marshal(x)
		var b bytes.Buffer
		if err = errors.Join(err, gob.NewEncoder(&b).Encode(x)); err != nil {
			t.Fatal(err)
		}
		return text, b.Bytes()
	}
	a := []detect.Cause{detect.SealsWorn, detect.SaltEmpty, detect.SealsWorn, detect.FloatStuck, "known_once"}
	text, binary := encoded(a...)
	slices.Reverse(a)
	again, sameBinary := encoded(a...)
	if want := `{"confirmed":{"float_stuck":1,"known_once":1,"salt_empty":1,"seals_worn":2}}`; string(text) != want || string(again) != want || !bytes.Equal(binary, sameBinary) {
		t.Errorf("%s and %s, want %s", text, again, want)
	}
	var read Experience
	if err := gob.NewDecoder(bytes.NewReader(binary)).Decode(&read); err != nil || read.Confirmed[detect.SealsWorn] != 2 {
		t.Error(err, read)
	}
	for _, wrong := range []string{`{"confirmed":{"seals_worn":-1}}`, `{"confirmed":7}`} {
		if json.Unmarshal([]byte(wrong), &read) == nil {
			t.Errorf("%s was read", wrong)
		}
	}
}

func BenchmarkBlame(b *testing.B) {
	e := Evidence{Age: time.Hour, Visible: detect.Kinds(), Findings: []Finding{
		{detect.SaltDrawLow, detect.Evidence{"drawn_share": 0.4, "drain_share": 0.9, "refill_share": 1.0}}, {detect.BrineHigh, nil}}}
	for b.Loop() {
		Standard().Blame(detect.SaltDrawLow, e)
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		if _, err := Load(files); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDiagnose(b *testing.B) {
	e := Evidence{Visible: detect.Kinds(), Symptoms: map[string]bool{"hard_again": true}}
	for b.Loop() {
		Standard().Diagnose(e, Technician)
	}
}
