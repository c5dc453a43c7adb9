package web

import (
	"net/http"
	"strings"
	"testing"

	"brinebell/detect/care"
)

// TestWhoSetsUpIsLedThere looks for the ways to the pages that set homes and
// people up, for all who may use them and nobody else.
func TestWhoSetsUpIsLedThere(t *testing.T) {
	s, _, _ := peopled(t)
	manager := care.Person{ID: "p4", Firm: "ebb", Role: care.Manager, Name: "Ada"}
	for _, served := range []bool{false, true} {
		s.SetUp = served
		for _, c := range []struct {
			who                 care.Person
			homes, people, home bool
		}{{dweller, false, false, false}, {technician, true, false, true}, {manager, true, true, true}, {operator, true, true, false}} {
			list := as(t, s, c.who, http.MethodGet, "/reading", nil).Body.String()
			home := as(t, s, c.who, http.MethodGet, "/homes/ferry-steps-2", nil).Body.String()
			for link, want := range map[string]bool{`"/set-up"`: c.homes, `"/set-up/people"`: c.people} {
				if got := strings.Contains(list, link); got != (want && served) {
					t.Errorf("%s, served %v: led to %s: %v", c.who.Role, served, link, got)
				}
			}
			if got := strings.Contains(home, `"/homes/ferry-steps-2/set-up"`); got != (c.home && served) {
				t.Errorf("%s, served %v: led to the home's settings: %v", c.who.Role, served, got)
			}
		}
	}
}

// TestNoHomesYet reads what people without a home are told to do.
func TestNoHomesYet(t *testing.T) {
	s, _, _ := peopled(t)
	s.SetUp = true
	stranger := care.Person{ID: "p5", Firm: "none", Role: care.Household, Name: "Lu", Language: "en"}
	if body := as(t, s, stranger, http.MethodGet, "/", nil).Body.String(); !strings.Contains(body, "No home has been given to you yet") || strings.Contains(body, "sensors/") {
		t.Error("a household is told what it cannot do")
	}
	stranger.Role = care.Manager
	if body := as(t, s, stranger, http.MethodGet, "/", nil).Body.String(); strings.Count(body, `"/set-up"`) != 2 {
		t.Error("a manager is not led from the empty list to the first home")
	}
}
