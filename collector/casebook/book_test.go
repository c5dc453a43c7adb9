package casebook

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
	"brinebell/detect/regeneration"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func day(n float64) time.Time { return noon.Add(time.Duration(n * 24 * float64(time.Hour))) }

// tester is what the tests need of a test, or of a property's.
type tester interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// scene is a casebook over a real store, at a time of its own.
type scene struct {
	t    tester
	path string
	now  time.Time // of the clock, and up to which every home is judged
	db   *state.DB
	book *Book
}

func newScene(t *testing.T) *scene {
	t.Helper()
	s := &scene{t: t, path: filepath.Join(t.TempDir(), "state.db"), now: noon}
	s.open()
	t.Cleanup(func() { _ = s.db.Close() })
	return s
}

// open opens the store anew, as after a restart.
func (s *scene) open() {
	s.t.Helper()
	if s.db != nil {
		if err := s.db.Close(); err != nil {
			s.t.Fatal(err)
		}
	}
	var err error
	if s.db, err = state.Open(context.Background(), s.path, func() time.Time { return s.now }); err != nil {
		s.t.Fatal(err)
	}
	s.book, err = New(Options{State: s.db, Clock: func() time.Time { return s.now }, Now: func(string) time.Time { return s.now },
		FirmOf: func(home string) string {
			if strings.HasPrefix(home, "far") {
				return "other"
			}
			return "saltmarsh"
		},
		Home: func(id string) (detect.Home, bool) { return detect.DefaultHome(id, time.UTC), true }})
	if err != nil {
		s.t.Fatal(err)
	}
}

// save stores alerts of a home as the judge does, and the casebook takes them.
func (s *scene) save(home string, alerts ...detect.Alert) {
	s.t.Helper()
	s.store(state.Progress{Home: home, Alerts: alerts})
	s.take()
}

func (s *scene) store(p state.Progress) {
	s.t.Helper()
	if _, err := s.db.Save(context.Background(), p); err != nil {
		s.t.Fatal(err)
	}
}

func (s *scene) take() {
	s.t.Helper()
	if err := s.book.Take(context.Background()); err != nil {
		s.t.Fatal(err)
	}
}

func (s *scene) judge() {
	s.t.Helper()
	if err := s.book.JudgeWatches(context.Background()); err != nil {
		s.t.Fatal(err)
	}
}

// cases are all that are not closed, dearest first.
func (s *scene) cases() []Case {
	s.t.Helper()
	page, err := s.book.List(context.Background(), Query{Stages: care.Stages()})
	if err != nil {
		s.t.Fatal(err)
	}
	return page.Cases
}

func (s *scene) one() Case {
	s.t.Helper()
	all := s.cases()
	if len(all) != 1 {
		s.t.Fatalf("%d cases, want one: %+v", len(all), all)
	}
	c, err := s.book.Case(context.Background(), all[0].ID)
	if err != nil {
		s.t.Fatal(err)
	}
	return c
}

func (s *scene) act(by care.Person, do Doing) Case {
	s.t.Helper()
	c, err := s.book.Act(context.Background(), by, s.one().ID, do)
	if err != nil {
		s.t.Fatal(err)
	}
	return c
}

// told counts the steps that people are to be told of.
func (s *scene) told() (n int) {
	s.t.Helper()
	err := s.db.Each(context.Background(), func(r *sql.Rows) error { return r.Scan(&n) }, `SELECT count(*) FROM outbox`)
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

func acts(c Case) (out []care.Act) {
	for _, s := range c.Steps {
		out = append(out, s.Act)
	}
	return out
}

func raised(home string, k detect.Kind, onset float64, causes ...detect.Cause) detect.Alert {
	a := detect.Alert{ID: detect.AlertID(home, k, day(onset)), Home: home, Kind: k, Severity: detect.ThisWeek, Onset: day(onset), Raised: day(onset + 0.5),
		Summary: "s", Evidence: detect.Evidence{"litres_per_day": 100.0}}
	for i, c := range causes {
		a.Causes = append(a.Causes, detect.CauseShare{Cause: c, Probability: 0.8 / float64(i+1)})
	}
	return a
}

func over(a detect.Alert, d float64) detect.Alert {
	a.Cleared = day(d)
	return a
}

var (
	technician = care.Person{ID: "t1", Firm: "saltmarsh", Role: care.Technician}
	manager    = care.Person{ID: "m1", Firm: "saltmarsh", Role: care.Manager}
	household  = care.Person{ID: "h1", Firm: "saltmarsh", Role: care.Household, Homes: []string{"a"}}
	neighbour  = care.Person{ID: "h2", Firm: "saltmarsh", Role: care.Household, Homes: []string{"b"}}
	rival      = care.Person{ID: "t2", Firm: "other", Role: care.Technician}
	operator   = care.Person{ID: "o1", Role: care.Operator}
)

func TestLifeOfALeak(t *testing.T) {
	s := newScene(t)
	leak := raised("a", detect.NightLeak, 0, detect.FlapperLeak)
	s.now = day(1)
	s.save("a", leak)
	leak.Severity = detect.ActNow
	s.save("a", leak, raised("a", detect.RegenerationFrequent, 0.2))
	if c := s.one(); c.Lead != leak.ID || c.Severity != detect.ActNow || c.Cause != detect.FlapperLeak || c.Kind != detect.NightLeak || c.Loss.Water != 100 || s.told() != 2 {
		t.Errorf("%+v, told %d times", c, s.told())
	}
	s.act(technician, Doing{Act: care.Acknowledge, Due: day(2)})
	s.now = day(2)
	s.act(household, Doing{Act: care.Repair, Cause: detect.FlapperLeak})
	s.save("a", over(leak, 2.5), over(raised("a", detect.RegenerationFrequent, 0.2), 2.6))
	s.now = day(5)
	s.judge()
	if c := s.one(); c.Stage != care.Watched || c.Watch == nil || c.Watch.QuietNights != 2 || len(c.Standing) != 0 || c.Loss.PerDay != 0 {
		t.Errorf("%+v %+v, want it watched for two nights", c.Case, c.Watch)
	}
	s.now = day(9)
	s.judge()
	s.judge()
	want := []care.Act{care.Raised, care.Updated, care.Raised, care.Acknowledge, care.Repair, care.Cleared, care.Cleared, care.Held}
	c := s.one()
	if !slices.Equal(acts(c), want) || c.Stage != care.Closed || s.told() != 3 {
		t.Errorf("%v at %s, told %d times; want %v", acts(c), c.Stage, s.told(), want)
	}
	if at := time.Date(2026, 3, 8, 5, 0, 0, 0, time.UTC); !c.Last().At.Equal(at) {
		t.Errorf("held at %s, want the end of the fourth quiet night %s", c.Last().At, at)
	}
	if c.Holder != "t1" || c.Steps[4].By != "h1" {
		t.Errorf("%+v, want each with who did it", c.Steps)
	}
}

func TestRepairThatDidNotHold(t *testing.T) {
	s := newScene(t)
	leak := raised("a", detect.NightLeak, 0, detect.FlapperLeak)
	s.now = day(1)
	s.save("a", leak)
	s.act(technician, Doing{Act: care.Repair, Cause: detect.FlapperLeak})
	s.now = day(20)
	s.judge()
	c := s.one()
	if c.Stage != care.Open || c.Last().Act != care.Reopened || c.Holder != "" || s.told() != 2 {
		t.Errorf("%+v, told %d times", c.Case, s.told())
	}
	if x, err := s.book.Experience(context.Background(), "saltmarsh"); err != nil || x.Confirmed[detect.FlapperLeak] != 0 {
		t.Errorf("%v %v: what did not help was not the cause", x, err)
	}
}

func TestWhatComesBackOpensTheCase(t *testing.T) {
	s := newScene(t)
	leak := over(raised("a", detect.NightLeak, 0, detect.FlapperLeak), 3)
	s.now = day(9)
	s.save("a", raised("a", detect.NightLeak, 0, detect.FlapperLeak))
	s.save("a", leak)
	s.judge()
	if c := s.one(); c.Stage != care.Closed || c.Last().Act != care.Held {
		t.Fatalf("%+v: gone by itself and stayed so", c.Case)
	}
	s.now = day(10)
	s.save("a", raised("a", detect.NightLeak, 9.2, detect.FlapperLeak))
	if c := s.one(); c.Stage != care.Open || len(c.Alerts) != 2 || c.Last().Act != care.Reopened {
		t.Errorf("%+v", c.Case)
	}
}

func TestRestartAndRerunDoubleNothing(t *testing.T) {
	s := newScene(t)
	leak, salt := raised("a", detect.NightLeak, 0), raised("a", detect.SaltLow, 1)
	s.save("a", leak, salt)
	want := s.steps()
	s.open()
	s.take()
	s.store(state.Progress{Home: "a", Alerts: []detect.Alert{leak, salt}, Rerun: &state.Rerun{}})
	s.take()
	if got := s.steps(); got != want || s.told() != 2 {
		t.Errorf("%d steps and %d told, want %d and 2", got, s.told(), want)
	}
}

func (s *scene) steps() (n int) {
	s.t.Helper()
	if err := s.db.Each(context.Background(), func(r *sql.Rows) error { return r.Scan(&n) }, `SELECT count(*) FROM steps`); err != nil {
		s.t.Fatal(err)
	}
	return n
}

func TestWhatStandsInAnotherAlertsPlaceIsNotToldAgain(t *testing.T) {
	s := newScene(t)
	first, exact := raised("a", detect.NightLeak, 0), raised("a", detect.NightLeak, 0.1)
	s.save("a", first)
	s.act(technician, Doing{Act: care.Acknowledge})
	s.store(state.Progress{Home: "a", Alerts: []detect.Alert{exact}, Rerun: &state.Rerun{}})
	s.take()
	c := s.one()
	if c.Stage != care.Taken || !slices.Equal(c.Standing, []string{exact.ID}) || c.Lead != exact.ID || s.told() != 1 {
		t.Errorf("%+v stands %v, told %d times", c.Case, c.Standing, s.told())
	}
	// Back again, as a later run may find.
	s.store(state.Progress{Home: "a", Alerts: []detect.Alert{first}, Rerun: &state.Rerun{}})
	s.take()
	if c := s.one(); c.Stage != care.Taken || !slices.Equal(c.Standing, []string{first.ID}) || s.told() != 1 {
		t.Errorf("%+v stands %v, told %d times", c.Case, c.Standing, s.told())
	}
}

func TestWithdrawnAlertIsOver(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0))
	s.store(state.Progress{Home: "a", Rerun: &state.Rerun{}})
	s.take()
	if c := s.one(); c.Stage != care.Watched || c.Last().Text != textWithdrawn || s.told() != 2 {
		t.Errorf("%+v, told %d times", c.Case, s.told())
	}
}

func TestWhoMayDoWhat(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0))
	id := s.one().ID
	for _, p := range []care.Person{neighbour, rival, operator, {}} {
		if _, err := s.book.Act(context.Background(), p, id, Doing{Act: care.Acknowledge}); !errors.Is(err, ErrNoCase) {
			t.Errorf("%s: %v, want that there is no such case", p.ID, err)
		}
		if err := s.book.Report(context.Background(), p, "a", Report{Note: "x"}); !errors.Is(err, ErrNoHome) {
			t.Errorf("%s: %v, want that there is no such home", p.ID, err)
		}
	}
	var refusal *care.Refusal
	if _, err := s.book.Act(context.Background(), household, id, Doing{Act: care.Close}); !errors.As(err, &refusal) || slices.Contains(refusal.Instead, care.Close) {
		t.Errorf("%v, want a refusal", err)
	}
	if _, err := s.book.Act(context.Background(), manager, id, Doing{Act: care.Close, Version: 99}); !errors.Is(err, ErrVersion) {
		t.Errorf("%v, want that the case has changed", err)
	}
	if _, err := s.book.Act(context.Background(), manager, id, Doing{Act: care.Note, Text: strings.Repeat("x", MaxText+1)}); !errors.Is(err, ErrText) {
		t.Errorf("%v, want that the text is too long", err)
	}
	if _, err := s.book.Act(context.Background(), manager, "ffff", Doing{Act: care.Close}); !errors.Is(err, ErrNoCase) {
		t.Errorf("%v, want that there is no such case", err)
	}
	if n := s.steps(); n != 1 {
		t.Errorf("%d steps after what was refused", n)
	}
}

func TestHistoryIsOnlyAddedTo(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0))
	if err := s.book.Report(context.Background(), household, "a", Report{Note: "x"}); err != nil {
		t.Fatal(err)
	}
	for _, statement := range []string{`UPDATE steps SET text = 'y'`, `DELETE FROM steps`, `UPDATE reports SET value = 'y'`, `DELETE FROM reports`} {
		err := s.db.Transact(context.Background(), func(tx *sql.Tx) error {
			_, err := tx.Exec(statement)
			return err
		})
		if err == nil || !strings.Contains(err.Error(), "only added") {
			t.Errorf("%s: %v", statement, err)
		}
	}
}

func cycle(d float64, reasons ...books.Reason) state.Regeneration {
	e := books.Entry{Start: day(d), End: day(d).Add(time.Hour), Ending: regeneration.Completed, Reasons: reasons}
	return state.Regeneration{Record: regeneration.Record{Start: e.Start, End: e.End}, Entry: &e}
}

func TestRegenerationsProveARepair(t *testing.T) {
	s := newScene(t)
	salt := raised("a", detect.SaltLow, 0, detect.SaltEmpty)
	s.save("a", salt)
	s.act(household, Doing{Act: care.Repair, Cause: detect.SaltEmpty})
	s.store(state.Progress{Home: "a", Alerts: []detect.Alert{over(salt, 1)}, Regenerations: []state.Regeneration{cycle(3, books.BrineLow), cycle(6), cycle(9)}})
	s.take()
	s.now = day(8)
	s.judge()
	if c := s.one(); c.Stage != care.Watched || c.Watch.RightRegenerations != 1 {
		t.Errorf("%+v %+v", c.Case, c.Watch)
	}
	s.now = day(10)
	s.judge()
	if c := s.one(); c.Stage != care.Closed || !c.Last().At.Equal(day(9).Add(time.Hour)) {
		t.Errorf("%+v", c.Case)
	}
}

func TestRootTakesItsEffectsCasesIn(t *testing.T) {
	s := newScene(t)
	silent := over(raised("a", detect.SensorSilent, 0.1), 0.9)
	s.save("a", raised("a", detect.HardWater, 0), raised("a", detect.SensorSilent, 0.1))
	second, err := s.book.OfAlert(context.Background(), silent.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.book.Act(context.Background(), technician, second, Doing{Act: care.Acknowledge}); err != nil {
		t.Fatal(err)
	}
	power := raised("a", detect.PowerLost, 0.2)
	s.save("a", silent, power)
	c := s.one()
	if c.ID == second || c.Lead != power.ID || len(c.Alerts) != 3 || len(c.Standing) != 2 || c.Stage != care.Taken || c.Holder != technician.ID {
		t.Errorf("%+v stands %v, want one case with three alerts that who had the second has", c.Case, c.Standing)
	}
	old, err := s.book.Case(context.Background(), second)
	if err != nil || old.Into != c.ID || old.Stage != care.Closed || len(old.Alerts) != 0 || old.Steps[0].Alert != silent.ID {
		t.Errorf("%+v %v, want it joined, with its history", old.Case, err)
	}
}
