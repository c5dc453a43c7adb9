package web

import (
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// A repair that held shows in one picture with its moment marked, and in figures
// on either side of it. The leak of 0.31 L/min began three days ago and ends a
// day ago: 18.6 L in the quietest hour of the night before, none after.
func TestProofOfARepair(t *testing.T) {
	town := newFakeTown()
	at := fakeNow.AddDate(0, 0, -1)
	flow := town.minutes["ferry-steps-2"][detect.InletFlow]
	for i := range flow {
		if flow[i].at.After(at) {
			flow[i].value = max(0, flow[i].value-0.31)
		}
	}
	options := fullOptions(town)
	book := options.Cases.(*fakeBook)
	for i := range book.cases {
		if c := &book.cases[i]; c.Home == "ferry-steps-2" {
			must(t, book.step(c, care.Step{At: at, By: "p1", Act: care.Repair, Cause: detect.FlapperLeak}, care.Technician))
		}
	}
	s, err := New(options)
	must(t, err)
	path := caseLink("ferry-steps-2", town.alerts[2].ID)
	says(t, s, path, "repaired, being watched", "Before and after the repair", "Repaired Mon 16 Mar, 15:20.", "Quietest hour of the night", "18.6 L", "0 L", "Water through the main")
	body := get(t, s, path).Body.String()
	if !strings.Contains(body, `class="band moment"`) || !strings.Contains(body, ">repaired</text>") {
		t.Error("the repair is not marked in the picture")
	}
	read := readerOf(town.homes[0])
	before, err := s.figures(t.Context(), read, town.homes[0], fakeNow.AddDate(0, 0, -3), at)
	must(t, err)
	after, err := s.figures(t.Context(), read, town.homes[0], at, fakeNow)
	must(t, err)
	if before.night < 18.5 || before.night > 18.7 || after.night > 0.01 || after.water >= before.water {
		t.Errorf("before %+v, after %+v", before, after)
	}
}

// Right after a repair nothing is claimed.
func TestProofTakesTime(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	book := options.Cases.(*fakeBook)
	for i := range book.cases {
		if c := &book.cases[i]; c.Home == "ferry-steps-2" {
			must(t, book.step(c, care.Step{At: fakeNow.Add(-time.Minute), Act: care.Repair, Cause: detect.FlapperLeak}, care.Technician))
		}
	}
	s, err := New(options)
	must(t, err)
	says(t, s, caseLink("ferry-steps-2", town.alerts[2].ID), "Before and after the repair", "shows once the home has been measured for a while")
}
