package care_test

import (
	"errors"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/care"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

var acts = []care.Act{care.Raised, care.Updated, care.Cleared, care.Held, care.Joined, care.Reopened, care.Acknowledge, care.AskHouse,
	care.AskFirm, care.Repair, care.Note, care.Answer, care.NotTrue, care.Close, "dance"}

// taken is a step with the role of who takes it.
type taken struct {
	care.Step
	role care.Role
}

// anyStep draws a step, possible or not.
func anyStep(t *rapid.T, at time.Time) taken {
	role := rapid.SampledFrom(append(care.Roles(), "")).Draw(t, "role")
	s := taken{role: role, Step: care.Step{At: at,
		Act:   rapid.SampledFrom(acts).Draw(t, "act"),
		Alert: rapid.SampledFrom([]string{"", "a", "b", "c"}).Draw(t, "alert"),
		Cause: rapid.SampledFrom([]detect.Cause{"", detect.FlapperLeak, "gremlins"}).Draw(t, "cause"),
		Text:  rapid.SampledFrom([]string{"", " ", "words"}).Draw(t, "text"),
	}}
	if role != "" {
		s.By = string(role) + rapid.SampledFrom([]string{"1", "2"}).Draw(t, "who")
	}
	return s
}

func begun(t interface{ Fatal(...any) }) care.Case {
	c, err := care.Case{Home: "h"}.Next(care.Step{At: noon, Act: care.Raised, Alert: "a"}, "")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A case is what its steps say: a refused step changes nothing, an accepted one
// adds itself, and going through the steps again leads to the same case.
func TestCaseIsWhatItsStepsSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := begun(t)
		roles := []care.Role{""}
		for i := range rapid.IntRange(0, 40).Draw(t, "n") {
			s := anyStep(t, noon.Add(time.Duration(i)*time.Hour))
			before := c
			n, err := c.Next(s.Step, s.role)
			if err != nil {
				checkRefusal(t, c, n, s, err)
				continue
			}
			c, roles = n, append(roles, s.role)
			if len(c.Steps) != len(before.Steps)+1 || !reflect.DeepEqual(c.Steps[:len(before.Steps)], before.Steps) || c.Last() != s.Step {
				t.Fatalf("the steps were %v and are %v", before.Steps, c.Steps)
			}
			checkCase(t, before, c)
		}
		again := care.Case{Home: "h"}
		for i, s := range c.Steps {
			var err error
			if again, err = again.Next(s, roles[i]); err != nil {
				t.Fatal(err)
			}
		}
		if !reflect.DeepEqual(again, c) {
			t.Fatalf("the same steps led to %+v and %+v", again, c)
		}
	})
}

func checkRefusal(t *rapid.T, before, after care.Case, s taken, err error) {
	var r *care.Refusal
	if !errors.As(err, &r) || r.Why == "" || r.Error() == "" || !reflect.DeepEqual(before, after) {
		t.Fatalf("%v of %+v, the case is %+v", err, s, after)
	}
	for _, a := range r.Instead {
		if s.role == "" || !slices.Contains(before.Can(s.role), a) {
			t.Fatalf("%q proposes %s, which %q cannot do while the case %s", err, a, s.role, before.Stage.Words())
		}
	}
}

// checkCase holds what is true of every case.
func checkCase(t *rapid.T, before, c care.Case) {
	last := c.Last()
	switch {
	case c.Stage == care.Taken && c.Holder == "":
		t.Fatal("taken by nobody")
	case !slices.Contains(care.Stages(), c.Stage):
		t.Fatalf("unknown stage %q", c.Stage)
	case c.Stage == care.Closed && before.Stage != care.Closed && !slices.Contains([]care.Act{care.Held, care.NotTrue, care.Close, care.Joined}, last.Act):
		t.Fatalf("closed by %s", last.Act)
	case c.Stage == care.Watched && before.Stage != care.Watched && last.Act != care.Repair && last.Act != care.Cleared:
		t.Fatalf("watched by %s", last.Act)
	case last.Act == care.Cleared && len(c.Standing()) == 0 && c.Stage != care.Watched && c.Stage != care.Closed:
		t.Fatalf("nothing stands and the case %s", c.Stage.Words())
	case last.Act == care.Note && c.Stage != before.Stage:
		t.Fatal("a note moved the case")
	}
	for _, id := range c.Standing() {
		if !slices.Contains(c.Alerts, id) {
			t.Fatalf("alert %s stands and is not of the case", id)
		}
	}
}

// What the buttons offer works, whoever is offered it at whatever stage.
func TestWhatIsOfferedIsPossible(t *testing.T) {
	for stage, c := range atEachStage(t) {
		for _, role := range care.Roles() {
			offered := c.Can(role)
			for _, a := range acts {
				s := care.Step{At: noon, By: "somebody new", Act: a, Cause: detect.FlapperLeak, Text: "words", Alert: ""}
				_, err := c.Next(s, role)
				if (err == nil) != slices.Contains(offered, a) {
					t.Errorf("%s while the case %s by %s: offered %v, got %v", a, stage.Words(), role, slices.Contains(offered, a), err)
				}
			}
			if role == care.Operator && len(offered) > 0 {
				t.Errorf("an operator, who has no business with the life of a home, may %v", offered)
			}
			if role == care.Household && (slices.Contains(offered, care.Close) || slices.Contains(offered, care.AskHouse)) {
				t.Errorf("a household may %v", offered)
			}
		}
	}
}

// atEachStage is a case at each stage.
func atEachStage(t *testing.T) map[care.Stage]care.Case {
	t.Helper()
	out := map[care.Stage]care.Case{care.Open: begun(t)}
	for stage, s := range map[care.Stage]care.Step{
		care.Taken: {Act: care.Acknowledge}, care.WaitingHousehold: {Act: care.AskHouse, Text: "?"}, care.WaitingFirm: {Act: care.AskFirm, Text: "?"},
		care.Watched: {Act: care.Repair, Cause: detect.FlapperLeak}, care.Closed: {Act: care.Close}} {
		s.By, s.At = "manager1", noon
		c, err := begun(t).Next(s, care.Manager)
		if err != nil || c.Stage != stage {
			t.Fatalf("%s led to %q: %v", s.Act, c.Stage, err)
		}
		out[stage] = c
	}
	return out
}

// go through a case by a table of steps.
func TestStepsOfACase(t *testing.T) {
	table := []struct {
		name  string
		steps []taken
		stage care.Stage
	}{
		{"the household answers the firm's question and the firm still has it", []taken{by(care.Technician, care.AskHouse), by(care.Household, care.Answer)}, care.Taken},
		{"the household's word does not stand for the firm's", []taken{by(care.Household, care.AskFirm), by(care.Household, care.Answer)}, care.WaitingFirm},
		{"the firm's does", []taken{by(care.Household, care.AskFirm), by(care.Technician, care.Answer)}, care.Open},
		{"gone by itself is watched", []taken{engine(care.Cleared, "a")}, care.Watched},
		{"one of two gone is not", []taken{engine(care.Raised, "b"), engine(care.Cleared, "a")}, care.Open},
		{"repaired, and held", []taken{by(care.Household, care.Repair), engine(care.Cleared, "a"), engine(care.Held, "")}, care.Closed},
		{"repaired, and back", []taken{by(care.Technician, care.Repair), engine(care.Cleared, "a"), engine(care.Reopened, "b")}, care.Open},
		{"one of two was a false alarm", []taken{engine(care.Raised, "b"), about(by(care.Household, care.NotTrue), "b")}, care.Open},
		{"both were", []taken{engine(care.Raised, "b"), about(by(care.Household, care.NotTrue), "b"), about(by(care.Household, care.NotTrue), "a")}, care.Closed},
		{"an after-effect of what was repaired", []taken{by(care.Technician, care.Repair), engine(care.Cleared, "a"), engine(care.Raised, "b")}, care.Watched},
	}
	for _, row := range table {
		c := begun(t)
		for _, s := range row.steps {
			var err error
			if c, err = c.Next(s.Step, s.role); err != nil {
				t.Errorf("%s: %v", row.name, err)
			}
		}
		if c.Stage != row.stage {
			t.Errorf("%s: the case %s, want that it %s", row.name, c.Stage.Words(), row.stage.Words())
		}
	}
}

func by(r care.Role, a care.Act) taken {
	return taken{care.Step{At: noon, By: string(r), Act: a, Text: "words", Cause: detect.FlapperLeak}, r}
}

func engine(a care.Act, alert string) taken {
	return taken{care.Step{At: noon, Act: a, Alert: alert}, ""}
}

func about(s taken, alert string) taken {
	s.Alert = alert
	return s
}

func TestRefusalSaysWhatIsPossible(t *testing.T) {
	c := atEachStage(t)[care.Closed]
	_, err := c.Next(care.Step{Act: care.Repair, By: "x", Cause: detect.FlapperLeak}, care.Technician)
	want := "The case is closed: one cannot say that it is repaired now. Possible now: add a note, open it again."
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}
