package care_test

import (
	"fmt"
	"slices"
	"testing"

	"brinebell/detect/care"
)

// who may do what, cell by cell, written out apart from the code: columns are
// own home and foreign home, or own firm and foreign firm, of household,
// technician, manager and operator. The rule behind each: the contract of
// accounts in the package's document.
var cells = map[care.Action]string{
	//                   house techn manag opera
	care.SeeProfile:   "y.    y.    y.    yy",
	care.SeeLife:      "y.    y.    y.    ..",
	care.TellAway:     "y.    y.    y.    ..",
	care.Report:       "y.    y.    y.    ..",
	care.Take:         "y.    y.    y.    ..",
	care.Settle:       "..    y.    y.    ..",
	care.CheckSensor:  "y.    y.    y.    yy",
	care.SetUpHome:    "..    y.    y.    yy",
	care.SetUpDevices: "..    y.    y.    yy",
	care.ExportHome:   "y.    ..    y.    yy",
	care.RemoveHome:   "..    ..    y.    yy",
	care.MoveHome:     "..    ..    ..    yy",
	care.SeePeople:    "..    y.    y.    yy",
	care.SetUpPeople:  "..    ..    y.    yy",
	care.SeeAudit:     "..    ..    y.    yy",
	care.SetUpFirms:   "..    ..    ..    yy",
	care.SeeService:   "..    ..    ..    yy",
	care.OwnTokens:    "y.    y.    y.    ..", // an operator's own are of no firm
	care.SeeOwnPerson: "y.    y.    y.    ..",
}

func people() []care.Person {
	return []care.Person{
		{ID: "h", Role: care.Household, Firm: "a", Homes: []string{"own"}},
		{ID: "t", Role: care.Technician, Firm: "a"},
		{ID: "m", Role: care.Manager, Firm: "a"},
		{ID: "o", Role: care.Operator},
	}
}

func places(a care.Action) [2]care.Place {
	switch a {
	case care.SeePeople, care.SetUpPeople, care.SeeAudit, care.SetUpFirms, care.SeeService, care.OwnTokens, care.SeeOwnPerson:
		return [2]care.Place{{Firm: "a"}, {Firm: "b"}}
	}
	return [2]care.Place{{Home: "own", Firm: "a"}, {Home: "theirs", Firm: "b"}}
}

func TestEveryCell(t *testing.T) {
	for _, action := range care.Actions() {
		want, ok := cells[action]
		if !ok {
			t.Errorf("%s: nobody wrote down who may", action)
			continue
		}
		got := ""
		for i, p := range people() {
			if i > 0 {
				got += "    "
			}
			for _, at := range places(action) {
				mark := "."
				if p.May(action, at) {
					mark = "y"
				}
				got += mark
			}
		}
		if got != want {
			t.Errorf("%s\n got %s\nwant %s", action, got, want)
		}
	}
	if len(cells) != len(care.Actions()) {
		t.Error("an action is written down that there is not")
	}
}

// A home of the own firm that is not the household's own is foreign to it.
func TestNeighboursAreForeign(t *testing.T) {
	neighbour := care.Place{Home: "next-door", Firm: "a"}
	for _, p := range people() {
		for _, a := range care.Actions() {
			if p.Role == care.Household && places(a)[0].Home != "" && p.May(a, neighbour) {
				t.Errorf("a household may %s next door", a)
			}
		}
		if knows := p.Knows(neighbour); knows == (p.Role == care.Household) {
			t.Errorf("%s knows next door: %v", p.Role, knows)
		}
	}
}

// Moved to another firm, a home is foreign to the household that still has it
// on its list, until somebody moves the household too.
func TestAHomeOfAnotherFirm(t *testing.T) {
	if people()[0].Knows(care.Place{Home: "own", Firm: "b"}) {
		t.Error("a household sees into another firm")
	}
}

func TestNobodyElseMayAnything(t *testing.T) {
	strangers := []care.Person{{}, {Role: "owner", Firm: "a"}, {Role: care.Manager, Homes: []string{"own"}}}
	for _, p := range people() {
		p.Disabled = true
		strangers = append(strangers, p)
	}
	for _, p := range strangers {
		for _, a := range care.Actions() {
			for _, at := range append(slices.Collect(placesOf(a)), care.Place{}) {
				if p.May(a, at) {
					t.Errorf("%s may %s at %v", fmt.Sprint(p), a, at)
				}
			}
		}
	}
	if care.Manager.Reach("dance") != care.Nowhere {
		t.Error("an unknown action is allowed")
	}
}

func placesOf(a care.Action) func(func(care.Place) bool) {
	p := places(a)
	return slices.Values(p[:])
}

// What an operator owns is of no firm, tokens among it.
func TestOperatorsOwn(t *testing.T) {
	o := people()[3]
	if !o.May(care.OwnTokens, care.Place{}) || !o.May(care.SeeOwnPerson, care.Place{}) {
		t.Error("an operator has no tokens")
	}
}

func TestReadingChangesNothing(t *testing.T) {
	for _, a := range care.Actions() {
		reads := slices.Contains([]care.Action{care.SeeProfile, care.SeeLife, care.ExportHome, care.CheckSensor,
			care.SeePeople, care.SeeAudit, care.SeeService, care.SeeOwnPerson}, a)
		if a.Changes() == reads {
			t.Errorf("%s changes something: %v", a, a.Changes())
		}
	}
}

// What a token is good for, scope by scope, for what reads, what changes and
// the two things of sensors.
func TestScopes(t *testing.T) {
	for _, c := range []struct {
		scope                                      care.Scope
		see, export, settle, devices, check, token bool
	}{
		{care.ReadScope, true, true, false, false, true, false},
		{care.WriteScope, true, true, true, true, true, true},
		{care.DevicesScope, false, false, false, true, true, false},
		{"all", false, false, false, false, false, false},
	} {
		for action, want := range map[care.Action]bool{care.SeeLife: c.see, care.ExportHome: c.export, care.Settle: c.settle,
			care.SetUpDevices: c.devices, care.CheckSensor: c.check, care.OwnTokens: c.token} {
			if got := c.scope.Covers(action); got != want {
				t.Errorf("%s covers %s: %v", c.scope, action, got)
			}
		}
	}
}

func TestDevicesHaveAPlaceOfTheirOwn(t *testing.T) {
	d := care.Device{Home: "mill-lane-4", ID: "meter"}
	if d.Login() != "mill-lane-4/meter" || d.Topic() != "homes/mill-lane-4/sensors/meter" {
		t.Error(d.Login(), d.Topic())
	}
}
