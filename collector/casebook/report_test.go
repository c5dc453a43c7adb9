package casebook

import (
	"context"
	"database/sql"
	"errors"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

func (s *scene) report(by care.Person, r Report) {
	s.t.Helper()
	if err := s.book.Report(context.Background(), by, "a", r); err != nil {
		s.t.Fatal(err)
	}
}

func TestNewestReportsAreEvidence(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.HardWater, 0))
	s.report(household, Report{Symptoms: map[string]bool{"hard_again": true, "smell": true}, Checks: map[string]string{"test_iron": "high"}})
	s.now = day(1)
	s.report(household, Report{Symptoms: map[string]bool{"smell": false}, Hardness: map[detect.Signal]float64{detect.ColdHardness: 250}})
	s.report(technician, Report{Checks: map[string]string{"test_iron": ""}, Note: "strip was old"})
	e, err := s.book.Evidence(context.Background(), "a")
	if err != nil || len(e.Findings) != 1 || e.Age != 24*time.Hour || !e.Symptoms["hard_again"] || e.Symptoms["smell"] || e.Hardness[detect.ColdHardness] != 250 || len(e.Checks) != 0 {
		t.Errorf("%+v %v", e, err)
	}
	if reports, err := s.book.Reports(context.Background(), "a"); err != nil || len(reports) != 3 || reports[2].By != "t1" || reports[2].Note != "strip was old" || reports[0].Checks["test_iron"] != "high" {
		t.Errorf("%+v %v: all are kept", reports, err)
	}
	s.now = day(2)
	s.act(technician, Doing{Act: care.Repair, Cause: detect.SaltEmpty})
	s.now = day(3)
	s.report(household, Report{Symptoms: map[string]bool{"salty_taste": true}})
	if e, err := s.book.Evidence(context.Background(), "a"); err != nil || len(e.Symptoms) != 1 || len(e.Hardness) != 0 {
		t.Errorf("%+v %v, want only what was said after the repair", e, err)
	}
	s.now = day(80)
	if e, err := s.book.Evidence(context.Background(), "a"); err != nil || len(e.Symptoms) != 0 {
		t.Errorf("%+v %v, want nothing so old", e, err)
	}
}

func TestReportThatCannotBe(t *testing.T) {
	s := newScene(t)
	for _, r := range []Report{{Symptoms: map[string]bool{"cough": true}}, {Checks: map[string]string{"test_iron": "purple"}}, {Checks: map[string]string{"unknown": ""}},
		{Hardness: map[detect.Signal]float64{detect.ColdHardness: -1}}, {Hardness: map[detect.Signal]float64{detect.InletFlow: 1}}} {
		if err := s.book.Report(context.Background(), household, "a", r); !errors.Is(err, care.ErrBad) {
			t.Errorf("%+v: %v", r, err)
		}
	}
}

func TestExperienceIsTheFirmsAndCanBeUndone(t *testing.T) {
	s := newScene(t)
	ctx := context.Background()
	s.save("a", raised("a", detect.HardWater, 0))
	s.act(household, Doing{Act: care.Repair, Cause: detect.BypassLeftOpen})
	if all, err := s.book.Confirmations(ctx, "saltmarsh"); err != nil || len(all) != 0 {
		t.Errorf("%+v %v: a household's word is no confirmed cause", all, err)
	}
	s.act(technician, Doing{Act: care.Repair, Cause: detect.SaltEmpty})
	s.act(manager, Doing{Act: care.Repair, Cause: detect.SaltBridge})
	x, err := s.book.Experience(ctx, "saltmarsh")
	if err != nil || x.Confirmed[detect.SaltBridge] != 1 || x.Confirmed[detect.SaltEmpty] != 0 {
		t.Errorf("%v %v, want the last word", x, err)
	}
	if x, err := s.book.Experience(ctx, "other"); err != nil || len(x.Confirmed) != 0 {
		t.Errorf("%v %v of another firm", x, err)
	}
	all, err := s.book.Confirmations(ctx, "saltmarsh")
	if err != nil || len(all) != 2 || all[0].Cause != detect.SaltBridge || all[1].UndoneBy != "m1" {
		t.Fatalf("%+v %v", all, err)
	}
	for _, p := range []care.Person{household, rival, operator} {
		if err := s.book.Undo(ctx, p, all[0].ID); !errors.Is(err, ErrNoConfirmation) {
			t.Errorf("%s: %v", p.ID, err)
		}
	}
	if err := s.book.Undo(ctx, technician, all[0].ID); err != nil {
		t.Fatal(err)
	}
	if err := s.book.Undo(ctx, technician, all[0].ID); !errors.Is(err, ErrNoConfirmation) {
		t.Errorf("%v the second time", err)
	}
	if x, err := s.book.Experience(ctx, "saltmarsh"); err != nil || len(x.Confirmed) != 0 {
		t.Errorf("%v %v after it was undone", x, err)
	}
}

func TestFalseAlarmsAreCounted(t *testing.T) {
	s := newScene(t)
	s.save("a", raised("a", detect.NightLeak, 0), raised("a", detect.RegenerationFrequent, 0))
	s.save("b", raised("b", detect.NightLeak, 0))
	c := s.cases()[1]
	if c.Home != "a" {
		c = s.cases()[0]
	}
	if _, err := s.book.Act(context.Background(), household, c.ID, Doing{Act: care.NotTrue}); err != nil {
		t.Fatal(err)
	}
	got, err := s.book.FalseAlarms(context.Background(), "saltmarsh")
	want := []FalseAlarms{{detect.NightLeak, detect.ThisWeek, 1, 2}, {detect.RegenerationFrequent, detect.ThisWeek, 1, 1}}
	if err != nil || len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("%+v %v, want %+v", got, err, want)
	}
}

func TestErasedHomeLeavesNothing(t *testing.T) {
	s := newScene(t)
	ctx := context.Background()
	s.save("a", raised("a", detect.NightLeak, 0))
	s.act(technician, Doing{Act: care.Repair, Cause: detect.FlapperLeak})
	s.report(household, Report{Note: "private"})
	s.save("b", raised("b", detect.NightLeak, 0))
	x, err := s.book.Export(ctx, "a")
	if err != nil || len(x.Cases) != 1 || len(x.Cases[0].Steps) != 2 || len(x.Reports) != 1 || len(x.Confirmations) != 1 {
		t.Errorf("%+v %v", x, err)
	}
	if err := s.book.Erase(ctx, "a"); err != nil {
		t.Fatal(err)
	}
	for _, table := range []string{"cases", "case_alerts", "steps", "reports", "outbox", "messages", "announced", "verdicts", "confirmations", "erasing"} {
		if n := s.count(`SELECT count(*) FROM ` + table + ` WHERE home = 'a'`); n != 0 {
			t.Errorf("%d rows of it are left in %s", n, table)
		}
	}
	if n := s.count(`SELECT count(*) FROM steps`); n != 1 {
		t.Errorf("%d steps of the other home, want 1", n)
	}
	if x, err := s.book.Experience(ctx, "saltmarsh"); err != nil || x.Confirmed[detect.FlapperLeak] != 1 {
		t.Errorf("%v %v: the bare count stays", x, err)
	}
	s.take() // nothing of it comes back
	if n := s.count(`SELECT count(*) FROM cases`); n != 1 {
		t.Errorf("%d cases", n)
	}
}

func (s *scene) count(query string) (n int) {
	s.t.Helper()
	if err := s.db.Each(context.Background(), func(r *sql.Rows) error { return r.Scan(&n) }, query); err != nil {
		s.t.Fatal(err)
	}
	return n
}
