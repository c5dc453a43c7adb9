package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"brinebell/detect"
	"brinebell/detect/cause"
)

func diagnosed(t *testing.T, args ...string) (d diagnosisJSON) {
	t.Helper()
	if err := json.Unmarshal([]byte(must(t, append([]string{"diagnose", "--format", "json"}, args...)...)), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// Without any sensor: symptoms, a hardness test and checks lead to a cause.
func TestDiagnoseWithoutSensors(t *testing.T) {
	d := diagnosed(t, "--symptom", "hard_again", "--who", "household")
	if d.Verdict != cause.Ask || d.Next == nil || d.Next.Who != cause.Household || len(d.Causes) < 5 {
		t.Fatalf("%+v", d)
	}
	sum := 0.0
	for _, o := range d.Next.Outcomes {
		sum += o.Chance
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("chances of the answers sum to %v", sum)
	}
	d = diagnosed(t, "--symptom", "hard_again", "--symptom", "smell=no", "--hardness", "raw=17 gpg,cold=280", "--check", "look_bypass=open")
	if d.Verdict != cause.Found || d.Causes[0].Cause != detect.BypassLeftOpen || d.Causes[0].Parts == "" || len(d.Causes[0].For) == 0 || d.Next != nil {
		t.Errorf("%s, %+v", d.Verdict, d.Causes[0])
	}
	text := must(t, "diagnose", "--symptom", "tank_full")
	for _, want := range []string{"times as likely", "Household:", "Bring:", "Caution:", "Next check ("} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func TestDiagnoseUsage(t *testing.T) {
	for _, args := range [][]string{
		{}, {"--symptom", "hungry"}, {"--symptom", "smell=maybe"}, {"--check", "look_salt"}, {"--check", "look_salt=sky"},
		{"--symptom", "hard_again", "--symptom", "hard_again=no"}, {"--check", "look_salt=empty", "--check", "look_salt=enough"},
		{"--hardness", "tepid=3"}, {"--hardness", "raw=wet"}, {"--who", "cat", "--symptom", "smell"}, {"--format", "xml", "--symptom", "smell"},
		{"some-home"}, {"some-home", "--homes", "/nowhere", "x.csv"},
	} {
		if code, _, errOut := command(t, append([]string{"diagnose"}, args...)...); code != exitUsage || errOut == "" {
			t.Errorf("%v: exit %d, %q", args, code, errOut)
		}
	}
}

// A home's recordings are replayed, and what its sensors show joins what people
// say.
func TestDiagnoseHome(t *testing.T) {
	record, homes, _ := simulated(t)
	list, err := readHomes(homes, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	d := diagnosed(t, list[0].ID, "--homes", homes, record, "--check", "dye_cistern=colour")
	if d.Home != list[0].ID || len(d.Causes) == 0 || d.Causes[0].Cause != detect.FlapperLeak {
		t.Errorf("%+v", d)
	}
	if text := must(t, "diagnose", list[1].ID, "--homes", homes, record); !strings.Contains(text, list[1].Name) {
		t.Error(text)
	}
	if code, _, errOut := command(t, "diagnose", "nobody", "--homes", homes, record); code != exitUsage || !strings.Contains(errOut, "nobody") {
		t.Errorf("exit %d: %s", code, errOut)
	}
}

// A measured hardness that is not the one set brings the advised setting with it,
// in text and in JSON; one that fits brings none.
func TestDiagnoseAdvisesSettings(t *testing.T) {
	record, homes, _ := simulated(t)
	list, err := readHomes(homes, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	h := list[0]
	hard := fmt.Sprintf("raw=%.0f", 1.6*h.Water.Hardness)
	d := diagnosed(t, h.ID, "--homes", homes, record, "--hardness", hard)
	if d.Advice == nil || math.Abs(float64(d.Advice.Hardness)/(1.6*h.Water.Hardness)-1) > 0.1 || d.Advice.Advised.Dose <= 0 {
		t.Errorf("%+v", d.Advice)
	}
	if text := must(t, "diagnose", h.ID, "--homes", homes, record, "--hardness", hard); !strings.Contains(text, "Advised setting: hardness") {
		t.Error(text)
	}
	if d := diagnosed(t, h.ID, "--homes", homes, record, "--check", "dye_cistern=colour", "--hardness", fmt.Sprintf("raw=%.0f", h.Water.Hardness)); d.Advice != nil {
		t.Errorf("%+v", d.Advice)
	}
}

// Questions are answered with numbers; what is no answer is asked again, a check
// that cannot be made is left out, and q ends.
func TestConversation(t *testing.T) {
	answers := "x\n1\n" + strings.Repeat("2\n", 9) + "1\n2\n" // display_dark is the eleventh
	var out bytes.Buffer
	if err := converse(t.Context(), streams{in: strings.NewReader(answers), out: &out}, cause.Technician); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Answer with a number from 1 to 3", cause.Lookup(detect.NoPower).Title, verdictWords[cause.Found]} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	out.Reset()
	if err := converse(t.Context(), streams{in: strings.NewReader("1\nq\n"), out: &out}, cause.Household); err != nil {
		t.Error(err)
	}
}

// Every check answered with "cannot be checked" still ends the conversation.
func TestConversationWithNothingToCheck(t *testing.T) {
	script := &always{}
	c := streams{in: script, out: script}
	if err := converse(t.Context(), c, cause.Household); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(script.text.String(), verdictWords[cause.CallTechnician]) {
		t.Error(script.text.String())
	}
}

// always says yes to the first question, no to the other symptoms, and of every
// check that it cannot be made: the last answer offered.
type always struct {
	text, since bytes.Buffer
	asked       int
}

func (a *always) Write(p []byte) (int, error) {
	a.since.Write(p)
	return a.text.Write(p)
}

func (a *always) Read(p []byte) (int, error) {
	lines := strings.Split(strings.TrimSpace(strings.TrimSuffix(a.since.String(), "> ")), "\n")
	last := strings.Fields(lines[len(lines)-1])[0]
	a.since.Reset()
	a.asked++
	switch {
	case a.asked == 1:
		last = "1"
	case a.asked <= len(cause.Standard().Symptoms()):
		last = "2"
	}
	return copy(p, last+"\n"), nil
}
