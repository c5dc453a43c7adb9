package web

import (
	"context"
	"encoding/csv"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// fakePeople put every home but two into a firm; those two are of another, and
// one of them lies in an area.
type fakePeople struct{ wished []string }

func (*fakePeople) Place(home string) (firm, area string) {
	switch home {
	case "ferry-steps-2":
		return "ebb", "North bank"
	case "lime-kiln-cottage":
		return "ebb", "=South"
	}
	return "flood", ""
}

func (*fakePeople) Name(_ context.Context, id string) string {
	return map[string]string{"p1": "Ines"}[id]
}

func (f *fakePeople) Wish(_ context.Context, id, language string, units detect.Units) error {
	f.wished = append(f.wished, id+" "+language+" "+string(units))
	return nil
}

type viewerKey struct{}

// as asks for a path as a person; a zero person is nobody.
func as(t *testing.T, s *Server, p care.Person, method, path string, form url.Values) *httptest.ResponseRecorder {
	t.Helper()
	ctx := context.WithValue(t.Context(), viewerKey{}, p)
	r := httptest.NewRequestWithContext(ctx, method, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	return w
}

// peopled is a server at which people sign in.
func peopled(t *testing.T) (*Server, *fakeTown, *fakePeople) {
	t.Helper()
	town, people := newFakeTown(), &fakePeople{}
	options := fullOptions(town)
	options.People = people
	options.Viewer = func(ctx context.Context) (care.Person, bool) {
		p, _ := ctx.Value(viewerKey{}).(care.Person)
		return p, p.ID != ""
	}
	s, err := New(options)
	must(t, err)
	return s, town, people
}

var (
	technician = care.Person{ID: "p1", Firm: "ebb", Role: care.Technician, Name: "Ines"}
	dweller    = care.Person{ID: "p2", Firm: "ebb", Role: care.Household, Homes: []string{"ferry-steps-2"}, Name: "Mo", Language: "de", Units: detect.US}
	operator   = care.Person{ID: "p3", Role: care.Operator, Name: "Ops"}
)

// TestNobodySeesAnothersHome goes to every page of every home as somebody who
// may not know it, and looks for its name in all that lists homes.
func TestNobodySeesAnothersHome(t *testing.T) {
	s, town, _ := peopled(t)
	for _, who := range []care.Person{technician, dweller, operator, {}} {
		for name, path := range everyFullPage(town) {
			if !strings.Contains(path, "mill-lane-4") && !strings.Contains(path, "quarry-road-11") && !strings.Contains(path, "harbour-view-1") {
				continue
			}
			if w := as(t, s, who, http.MethodGet, path, nil); w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), "4 Mill Lane") {
				t.Errorf("%s sees %s: %d", who.Name, name, w.Code)
			}
		}
		for _, path := range []string{"/", "/?q=mill", "/salt?weeks=13", "/salt.csv?weeks=13", "/fleet", "/replay"} {
			if body := as(t, s, who, http.MethodGet, path, nil).Body.String(); strings.Contains(body, "Mill Lane") || strings.Contains(body, "mill-lane-4") {
				t.Errorf("%s is told of another firm's home by %s", who.Name, path)
			}
		}
		for _, path := range []string{"/homes/mill-lane-4/away", "/homes/mill-lane-4/symptoms", "/homes/mill-lane-4/hardness", "/homes/mill-lane-4/checks", caseLink("mill-lane-4", town.alerts[0].ID) + "/act"} {
			if w := as(t, s, who, http.MethodPost, path, url.Values{"act": {"note"}, "text": {"x"}, "hard_again": {"yes"}}); w.Code != http.StatusNotFound {
				t.Errorf("%s acts at another's home: %s %d", who.Name, path, w.Code)
			}
		}
	}
}

// A case is found at its own home alone, whatever home the address names.
func TestACaseBelongsToItsHome(t *testing.T) {
	s, town, _ := peopled(t)
	if w := as(t, s, technician, http.MethodGet, caseLink("ferry-steps-2", town.alerts[0].ID), nil); w.Code != http.StatusNotFound {
		t.Errorf("another home's case: %d", w.Code)
	}
}

func TestAHouseholdComesHome(t *testing.T) {
	s, _, people := peopled(t)
	w := as(t, s, dweller, http.MethodGet, "/", nil)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/homes/ferry-steps-2" {
		t.Errorf("%d to %q", w.Code, w.Header().Get("Location"))
	}
	body := as(t, s, dweller, http.MethodGet, "/homes/ferry-steps-2", nil).Body.String()
	if said := text(body); !strings.Contains(said, "Was jetzt zu tun ist") || !strings.Contains(said, "gal/min") || strings.Contains(said, "Salztour") || !strings.Contains(body, `action="/sign-out"`) {
		t.Errorf("its page: %.400s", said)
	}
	for _, path := range []string{"/salt", "/fleet", "/refused", "/replay", "/salt.csv"} {
		if w := as(t, s, dweller, http.MethodGet, path, nil); w.Code != http.StatusNotFound {
			t.Errorf("a household opens %s: %d", path, w.Code)
		}
	}
	as(t, s, dweller, http.MethodPost, "/reading", url.Values{"language": {"en"}, "units": {"metric"}, "back": {"//elsewhere"}})
	if !slices.Equal(people.wished, []string{"p2 en metric"}) {
		t.Errorf("wished %q", people.wished)
	}
}

func TestOnlyWhoRunsItSeesWhatWasRefused(t *testing.T) {
	s, _, _ := peopled(t)
	if w := as(t, s, technician, http.MethodGet, "/refused", nil); w.Code != http.StatusNotFound {
		t.Errorf("a technician: %d", w.Code)
	}
	w := as(t, s, operator, http.MethodGet, "/refused", nil)
	if said := text(w.Body.String()); !strings.Contains(said, "homes/mill-lane-4/sensors/attic") || !strings.Contains(said, `{"n": <b> ·`) || !strings.Contains(said, "Send a SenML pack") {
		t.Errorf("%d: %s", w.Code, said)
	}
}

// What another site's form sends is refused, also where nobody signs in.
func TestFormsOfOtherSitesAreRefused(t *testing.T) {
	town := newFakeTown()
	s, err := New(fullOptions(town))
	must(t, err)
	r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/homes/mill-lane-4/hardness", strings.NewReader("tap=cold_hardness&hardness=10"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	if w.Code != http.StatusForbidden || len(s.Cases.(*fakeBook).reports) > 0 {
		t.Errorf("%d, taken: %v", w.Code, s.Cases.(*fakeBook).reports)
	}
}

// What cannot be taken is said so with its reason, and nothing is changed.
func TestWhatCannotBeTaken(t *testing.T) {
	town := newFakeTown()
	s, err := New(fullOptions(town))
	must(t, err)
	act := caseLink("ferry-steps-2", town.alerts[2].ID) + "/act"
	for _, c := range []struct {
		path, form, says string
		status           int
	}{
		{"/homes/mill-lane-4/symptoms", "", "Answer at least one question", 422},
		{"/homes/mill-lane-4/hardness", "tap=cold_hardness&hardness=soft", "as a number in mg/L", 422},
		{"/homes/mill-lane-4/hardness", "tap=cold_hardness&hardness=-1", "as a number in mg/L", 422},
		{"/homes/mill-lane-4/hardness", "tap=nose&hardness=1", "could not be read", 422},
		{"/homes/mill-lane-4/away", "from=2026-03-20&to=2026-03-19", "two days in order", 422},
		{"/homes/mill-lane-4/salt", "salt=NaN", "above nought", 422},
		{act, "act=acknowledged&version=99", "Somebody else was quicker", 422},
		{act, "act=reopened", "That is not possible now", 422},
		{act, "act=acknowledged&due=soon", "could not be read", 422},
		{"/homes/mill-lane-4/cases/none/act", "act=note&text=x", "no such case", 404},
		{"/searches", "name=&query=q%3Dx", "Give the search a name", 422},
		{"/reading", "language=xx", "could not be read", 422},
	} {
		w := as(t, s, care.Person{}, http.MethodPost, c.path, must1(url.ParseQuery(c.form)))
		if w.Code != c.status || !strings.Contains(text(w.Body.String()), c.says) {
			t.Errorf("%s %s: %d %.300s", c.path, c.form, w.Code, text(w.Body.String()))
		}
	}
}

func must1[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// The list is for spreadsheets: names that begin as a formula are kept from
// being one (OWASP, CSV injection), days are local, masses kilograms.
func TestTheSaltListIsTakenAlong(t *testing.T) {
	s, town, _ := peopled(t)
	town.homes[0].Name = "=1+1"
	w := as(t, s, technician, http.MethodGet, "/salt.csv?weeks=4", nil)
	rows, err := csv.NewReader(w.Body).ReadAll()
	must(t, err)
	want := [][]string{{"area", "home", "name", "runs_out_early", "runs_out_expected", "left_kg", "bring_kg", "bags_25_kg"},
		{"North bank", "ferry-steps-2", "'=1+1", "2026-04-06", "2026-04-12", "34.0", "41.0", "1"}}
	if !slices.EqualFunc(rows, want, slices.Equal[[]string]) {
		t.Errorf("%q", rows)
	}
	said := text(as(t, s, technician, http.MethodGet, "/salt?weeks=4", nil).Body.String())
	for _, sentence := range []string{"1 home may run out of salt in the next 4 weeks; their tanks have room for 41 kg.", "At 1 home the salt is not known", "North bank 41 kg", "week 3"} {
		if !strings.Contains(said, sentence) {
			t.Errorf("%q is not in %s", sentence, said)
		}
	}
}

func TestTheFleetAgainstItsLimits(t *testing.T) {
	town := newFakeTown()
	s, err := New(fullOptions(town))
	must(t, err)
	// 3,100 L of 300 mg/L are 930 g, for 2.7 kg of salt: 344 g a kg, below 571 g
	// (4,000 grains a pound).
	says(t, s, "/fleet", "4 of 6 homes have soft water today", "0 of 4 measured homes kept within the limit", "at least 571 g", "344 g for a kg",
		"at most 0.292 L", "Sensors that need a hand", "All sensors that were ever heard", "Water never stops at night", "1", "7")
	town.alerts = append(town.alerts, detect.Alert{ID: "x", Home: "orchard-row-7", Kind: detect.HardWater, Severity: detect.ThisWeek, Onset: fakeNow},
		detect.Alert{ID: "y", Home: "orchard-row-7", Kind: detect.SensorSilent, Severity: detect.ThisWeek, Onset: fakeNow, Evidence: detect.Evidence{"signals": "brine_level"}})
	town.minutes["mill-lane-4"][detect.Battery] = []sample{{fakeNow.Add(-time.Hour), 14}}
	says(t, s, "/fleet", "3 of 6 homes have soft water today", "4 Mill Lane", "Battery at 14 %", "7 Orchard Row", "A sensor has gone silent: the level in the brine tank")
}

// A home from which nothing has arrived lately does not look quiet.
func TestAMuteHomeIsNotQuiet(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	options.Clock = func() time.Time { return fakeNow.Add(5 * time.Hour) }
	s, err := New(options)
	must(t, err)
	says(t, s, "/homes/orchard-row-7", "Not heard", "Nothing heard since Tue 17 Mar, 15:20.")
	says(t, s, "/homes/ferry-steps-2", "Act now", "Nothing heard since Tue 17 Mar, 15:20.")
	says(t, s, "/", "2 Not heard", "7 Orchard Row", "Nothing heard since")
	says(t, s, "/fleet", "Nothing arrives from this home")
	if said := text(get(t, s, "/").Body.String()); strings.Contains(said, "Nothing needs you") {
		t.Error("a home that is not heard is called quiet")
	}
}

// TestTheBoardIsKeptFresh: while Run runs pages take the board as it is, a change
// that is hinted at comes within MinInterval, and one that is not by and by.
func TestTheBoardIsKeptFresh(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		town := newFakeTown()
		s, err := New(Options{Source: town})
		must(t, err)
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- s.Run(ctx) }()
		synctest.Wait()
		listed := func() bool {
			b, err := s.board(t.Context())
			must(t, err)
			return slices.ContainsFunc(b.homes, func(h standing) bool { return h.home.Name == "Orchard House" })
		}
		town.rename("orchard-row-7", "Orchard House")
		if listed() {
			t.Error("the board was made for the page")
		}
		town.hint()
		time.Sleep(DefaultMinInterval)
		synctest.Wait()
		if !listed() {
			t.Error("a hinted change is not on the board")
		}
		town.rename("orchard-row-7", "Orchard Row")
		time.Sleep(boardEvery)
		synctest.Wait()
		if listed() {
			t.Error("a change that nobody hinted at is not on the board")
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if s.kept.Load() != nil {
			t.Error("the board is kept although nobody keeps it fresh")
		}
	})
}

func TestAReplayThatCannotBe(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	options.Replayer.(*fakeReplayer).err = plainError("Another replay is running.")
	s, err := New(options)
	must(t, err)
	for path, want := range map[string]string{
		"/replay?home=ferry-steps-2&from=2026-03-14&to=2026-03-17": "Another replay is running.",
		"/replay?home=ferry-steps-2&from=2026-03-17&to=2026-03-14": "two days in order",
		"/replay?home=ferry-steps-2&from=2020-03-17&to=2026-03-14": "at most 92 days apart",
	} {
		if w := get(t, s, path); w.Code != http.StatusUnprocessableEntity || !strings.Contains(text(w.Body.String()), want) {
			t.Errorf("%s: %d %s", path, w.Code, text(w.Body.String()))
		}
	}
	if w := get(t, s, "/replay?home=nobody&from=2026-03-14&to=2026-03-17"); w.Code != http.StatusNotFound {
		t.Errorf("a home that is not there: %d", w.Code)
	}
	w := as(t, s, care.Person{}, http.MethodPost, "/replay", url.Values{"home": {"ferry-steps-2"}})
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a form without a file: %d", w.Code)
	}
}

// TestEveryPageOfNothing: with no homes at all, every page says what comes next.
func TestEveryPageOfNothing(t *testing.T) {
	town := &fakeTown{}
	options := fullOptions(town)
	options.Refused = func() []Refused { return nil }
	s, err := New(options)
	must(t, err)
	for path, want := range map[string]string{"/": "Add the first home", "/salt": "Look further ahead", "/fleet": "Add the first home", "/refused": "Everything that came in was understood.",
		"/replay": "Add the first home", "/reading": "Keep"} {
		if w := get(t, s, path); w.Code != http.StatusOK || !strings.Contains(text(w.Body.String()), want) {
			t.Errorf("%s: %d %s", path, w.Code, text(w.Body.String()))
		}
	}
}
