package web

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"brinebell/detect"
)

// text is what a page says, tags and folded space left out.
func text(body string) string {
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		return ""
	}
	var b strings.Builder
	for n := range doc.Descendants() {
		if n.Type == html.TextNode {
			b.WriteString(" " + n.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// says checks that the page says each of the sentences, in this order.
func says(t *testing.T, s *Server, path string, sentences ...string) {
	t.Helper()
	all := text(get(t, s, path).Body.String())
	rest := all
	for _, want := range sentences {
		_, after, found := strings.Cut(rest, want)
		if !found {
			t.Errorf("%s does not say %q (in this place):\n%s", path, want, all)
			return
		}
		rest = after
	}
}

func TestTheTownListsTheWorstFirst(t *testing.T) {
	says(t, newServer(t, newFakeTown()), "/", "2 homes need someone now.", "2 Act now", "1 This week", "1 No readings yet", "2 Quiet",
		"11 Quarry Road", "2 Ferry Steps", "Water has been running without a rest since Sat 14 Mar, 15:20: 0.31 L/min on average", "4 Mill Lane", "And 1 more thing to look at.",
		"1 Harbour View", "7 Orchard Row", "Nothing needs you.", "Lime Kiln Cottage", "No alert is no proof")
}

func TestAHomeExplainsItsAlert(t *testing.T) {
	s, town := newServer(t, newFakeTown()), newFakeTown()
	says(t, s, "/homes/ferry-steps-2", "2 Ferry Steps", "Act now", "Water has been running without a rest since Sat 14 Mar, 15:20: 0.31 L/min on average, 446 L a day.",
		"The last regeneration began Mon 16 Mar, 02:03 and ran to its end.", "Newest reading Tue 17 Mar, 15:20.", "What to do now",
		"since Sat 14 Mar, 15:20", "Flapper leak.", "Listen near the place at night", "That it happens is measured. As to why: the first cause listed is likely (71 %).",
		"Take care", "See the evidence", "Water by the hour", "Nights", "Water through the main", "Water to the drain", "Liquid in the brine tank", "Earlier alerts", "What the sensors here cannot see",
		"A flow below 0.1 L/min (6 L an hour) at the main")
	says(t, s, caseLink("ferry-steps-2", town.alerts[2].ID), "2 Ferry Steps", "The evidence", "since Sat 14 Mar, 15:20, noticed Sun 15 Mar, 08:20",
		"counts from 0.02 L/min", "What the sensors measured", "How much water runs", "0.31 L/min", "Water lost in a day", "446 L a day", "How it runs", "evenly",
		"Flapper leak", "likely, 71 %", "The check that settles it:", "Dripping fixture", "very unlikely, 16 %")
}

func TestAHouseholdReadsItsOwnUnitsAndClock(t *testing.T) {
	s, town := newServer(t, newFakeTown()), newFakeTown()
	says(t, s, "/homes/quarry-road-11", "0.317 gal/min, 456 gal a day", "Newest reading Tue Mar 17, 9:20 am.", "Water through the main gal/min", "Liquid in the brine tank in", "0.026 gal/min (1.59 gal an hour) at the main")
	says(t, s, caseLink("quarry-road-11", town.alerts[3].ID), "0.317 gal/min", "456 gal a day")
	for _, path := range []string{"/homes/quarry-road-11", caseLink("quarry-road-11", town.alerts[3].ID)} {
		if body := text(get(t, s, path).Body.String()); strings.Contains(body, "L/min") || strings.Contains(body, " mm") {
			t.Errorf("%s: a household that reads gallons is shown litres", path)
		}
	}
}

func TestTwoAlertsAreTwoThingsToDo(t *testing.T) {
	s, town := newServer(t, newFakeTown()), newFakeTown()
	says(t, s, "/homes/mill-lane-4", "And 1 more thing to look at.", "A regeneration drew too little brine",
		"Injector clogged.", "about even (52 %)", "The valve is under pressure", "The salt is running out", "The salt lasts about another 12 days; the tank has room for 41 kg.",
		"That it happens is measured; why is not known yet.", "A salt bag can weigh more than the 23 kg")
	says(t, s, caseLink("mill-lane-4", town.alerts[0].ID), "Injector clogged", "about even, 52 %", "Salt bridge", "unlikely, 27 %")
}

// The caution of a less likely cause must not get lost on the way: it stands
// with that cause, before its check.
func TestEveryCauseKeepsItsCaution(t *testing.T) {
	town := newFakeTown()
	town.alerts[0].Causes = []detect.CauseShare{{Cause: detect.SaltBridge, Probability: 0.6}, {Cause: detect.InjectorClogged, Probability: 0.3}}
	says(t, newServer(t, town), caseLink("mill-lane-4", town.alerts[0].ID), "Salt bridge", "Injector clogged", "Take care:", "The valve is under pressure", "The check that settles it:")
}

func TestAnAlertThatIsOverStaysBelow(t *testing.T) {
	says(t, newServer(t, newFakeTown()), "/homes/orchard-row-7", "Nothing needs you.", "Earlier alerts", "A sensor has gone silent", "for 5 h 12 min")
}

func TestAPipeWithOnlyATotalStillHasAPicture(t *testing.T) {
	body := get(t, newServer(t, newFakeTown()), "/homes/lime-kiln-cottage").Body.String()
	if !strings.Contains(body, `id="picture-water-t"`) {
		t.Error("no picture of water from the meter's total")
	}
	if strings.Contains(body, "never stopped") || !strings.Contains(body, "the mean of half an hour") {
		t.Error("a total is drawn as if it showed what never stopped")
	}
	if !strings.Contains(body, "No meter hangs on the drain line") {
		t.Error("the missing drain meter is not told")
	}
}

func TestEmptyStatesSayTheNextStep(t *testing.T) {
	says(t, newServer(t, &fakeTown{}), "/", "No homes yet.", "Add the first home; its name and its time zone are enough")
	s := newServer(t, newFakeTown())
	says(t, s, "/homes/harbour-view-1", "No sensor has sent a reading yet.", "homes/harbour-view-1/sensors/<device>", "An alert that is over stays here.")
	says(t, s, "/homes/harbour-view-1/regenerations", "No regeneration was seen yet.", "once the home's sensors send readings")
}

func TestTheTableOfRegenerations(t *testing.T) {
	says(t, newServer(t, newFakeTown()), "/homes/mill-lane-4/regenerations", "regenerations in the last 60 days", "Began", "Brine drawn",
		"Mon 16 Mar, 02:03", "1 h 22 min", "2.4 L", "219 L", "Ran to its end", "99 %", "Fri 13 Mar, 02:03", "8.01 L")
}

func TestOneRegeneration(t *testing.T) {
	town := newFakeTown()
	says(t, newServer(t, town), everyPage(town)["regeneration"], "Regeneration of Mon 16 Mar, 02:03",
		"It took 1 h 22 min and ran to its end. It drew 2.4 L of brine and sent 219 L to the drain.", "almost certain (99 %)",
		"Drain flow and brine level", "1", "2", "3", "4", "5", "Backwash", "02:03", "10 min", "78 L", "Brine draw", "02:13", "2.4 L out", "Refill", "2.4 L in", "Brine level before", "240 mm")
}

func TestNothingFromOutsideBecomesMarkup(t *testing.T) {
	town := newFakeTown()
	evil := `</title><script>alert(1)</script><img src=x onerror=alert(1)>"'`
	town.homes[0].Name = evil
	town.alerts = []detect.Alert{{ID: `x" onmouseover="y`, Home: town.homes[0].ID, Kind: detect.Kind(evil), Severity: detect.Severity(evil), Onset: fakeNow.Add(-time.Hour), Raised: fakeNow,
		Summary: evil, Causes: []detect.CauseShare{{Cause: detect.Cause(evil), Probability: 0.5}}, Evidence: detect.Evidence{evil: evil}}}
	town.homes[0].Bypassed = []string{evil}
	s := newServer(t, town)
	for _, path := range []string{"/", "/homes/ferry-steps-2", "/homes/ferry-steps-2/regenerations"} {
		body := get(t, s, path).Body.String()
		doc, err := html.Parse(strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		for n := range doc.Descendants() {
			if n.Data == "img" || n.Data == "script" && n.FirstChild != nil {
				t.Errorf("%s: <%s> from outside", path, n.Data)
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") {
					t.Errorf("%s: attribute %s on <%s>", path, a.Key, n.Data)
				}
			}
		}
		if !strings.Contains(text(body), "<script>alert(1)</script>") {
			t.Errorf("%s does not show the name as text", path)
		}
	}
}

func TestALargeTownComesInPages(t *testing.T) {
	town := newFakeTown()
	for i := range 200 {
		h := detect.DefaultHome("home-"+string(rune('a'+i/26))+string(rune('a'+i%26)), time.UTC)
		town.homes = append(town.homes, h)
		town.minutes[h.ID] = town.minutes["orchard-row-7"]
		town.alerts = append(town.alerts, detect.Alert{ID: h.ID, Home: h.ID, Kind: detect.NightLeak, Severity: detect.ThisWeek, Onset: fakeNow,
			Summary: "Water never stops at night: about 0.31 L/min, 446 L a day, and nobody has looked at it for more than three weeks now."})
	}
	s := newServer(t, town)
	seen := 0
	for _, page := range []string{"/", "/?page=2", "/?page=3", "/?page=4", "/?page=5", "/?page=6", "/?page=7"} {
		body := get(t, s, page).Body.String()
		seen += strings.Count(body, `<h3><a href="/homes/`)
		if len(body) > pageBound {
			t.Errorf("%s weighs %d bytes", page, len(body))
		}
	}
	if want := len(town.homes); seen != want {
		t.Errorf("%d homes on all pages, want %d", seen, want)
	}
	for _, page := range []string{"/?page=99", "/?page=-1", "/?page=x"} {
		if w := get(t, s, page); w.Code != 200 || !strings.Contains(w.Body.String(), "<h3><a") {
			t.Errorf("%s: %d", page, w.Code)
		}
	}
}
