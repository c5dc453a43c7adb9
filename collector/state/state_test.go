package state

import (
	"context"
	"errors"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 123456789, time.UTC)

func open(t *testing.T, path string) *DB {
	t.Helper()
	clock := noon
	db, err := Open(context.Background(), path, func() time.Time {
		clock = clock.Add(time.Second)
		return clock
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func alert(kind detect.Kind, raised time.Time) detect.Alert {
	return detect.Alert{ID: detect.AlertID("a", kind, raised), Home: "a", Kind: kind, Severity: detect.Plan,
		Onset: raised.Add(-time.Hour), Raised: raised, Summary: "s",
		Causes:   []detect.CauseShare{{Cause: detect.FlapperLeak, Probability: 0.75}},
		Evidence: detect.Evidence{"size_l_per_min": 0.05, "nothing": math.NaN(), "word": "steady"}}
}

func save(t *testing.T, db *DB, p Progress) (news []detect.Alert) {
	t.Helper()
	p.Home = "a"
	news, err := db.Save(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return news
}

func alerts(t *testing.T, db *DB) []Alert {
	t.Helper()
	out, err := db.Alerts(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestAlertIsStoredOnceAndUpdated(t *testing.T) {
	path := filepath.Join(t.TempDir(), "with space?.db")
	db := open(t, path)
	a := alert(detect.NightLeak, noon)
	if news := save(t, db, Progress{Alerts: []detect.Alert{a}}); len(news) != 1 {
		t.Errorf("news %v, want the alert", news)
	}
	first := alerts(t, db)
	if news := save(t, db, Progress{Alerts: []detect.Alert{a}, Rerun: &Rerun{}}); len(news) != 0 {
		t.Errorf("news %v of what is stored already", news)
	}
	again := alerts(t, db)
	if len(again) != 1 || !again[0].Updated.Equal(first[0].Updated) {
		t.Fatalf("%v, want one alert, not updated", again)
	}
	got := again[0]
	if got.ID != a.ID || !got.Onset.Equal(a.Onset) || !got.Raised.Equal(a.Raised) || !got.Open() || got.Kind != a.Kind || got.Severity != a.Severity ||
		!slices.Equal(got.Causes, a.Causes) || got.Evidence["size_l_per_min"] != 0.05 || got.Evidence["nothing"] != nil || got.Evidence["word"] != "steady" {
		t.Errorf("%+v, want %+v", got, a)
	}
	a.Cleared, a.Severity = noon.Add(time.Hour), detect.ActNow
	save(t, db, Progress{Alerts: []detect.Alert{a}})
	if got := alerts(t, db); len(got) != 1 || !got[0].Cleared.Equal(a.Cleared) || got[0].Severity != detect.ActNow || !got[0].Updated.After(first[0].Updated) {
		t.Errorf("%+v, want it cleared", got)
	}
	second := open(t, path) // a second process sees the same
	if got := alerts(t, second); len(got) != 1 {
		t.Errorf("%v after opening again", got)
	}
}

func TestRerunWithdrawsWhatItDoesNotRaise(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	before, gone, stays := alert(detect.NightLeak, noon), alert(detect.MeterDead, noon.Add(2*time.Hour)), alert(detect.DrainRunning, noon.Add(3*time.Hour))
	before.Cleared = noon.Add(4 * time.Hour)
	save(t, db, Progress{Alerts: []detect.Alert{before, gone, stays}, Snapshots: []Snapshot{{noon, []byte("0")}, {noon.Add(5 * time.Hour), []byte("5")}},
		Regenerations: []Regeneration{{Record: regeneration.Record{Start: noon.Add(-2 * time.Hour), End: noon.Add(-time.Hour)}}, {Record: regeneration.Record{Start: noon, End: noon.Add(time.Hour)}}}})
	if err := db.WantRerun(context.Background(), "a", noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	save(t, db, Progress{Alerts: []detect.Alert{stays}, Rerun: &Rerun{From: noon}})
	got := alerts(t, db)
	if len(got) != 3 || !got[0].Open() || !got[0].Withdrawn.IsZero() || got[1].Withdrawn.IsZero() || !got[2].Withdrawn.IsZero() {
		t.Errorf("%+v, want the first open again, the second withdrawn, the third as it was", got)
	}
	records, err := db.Regenerations(context.Background(), "a", time.Time{}, noon.AddDate(1, 0, 0))
	if err != nil || len(records) != 1 {
		t.Errorf("regenerations %v %v, want the one from before", records, err)
	}
	marks, err := db.Watermarks(context.Background(), "a")
	if err != nil || len(marks) != 1 || !marks[0].Equal(noon) {
		t.Errorf("snapshots %v %v, want the one that the run began with", marks, err)
	}
	if _, ok, err := db.WantedRerun(context.Background(), "a"); ok || err != nil {
		t.Errorf("the re-run is still wanted, %v", err)
	}
	save(t, db, Progress{Alerts: []detect.Alert{gone}, Rerun: &Rerun{}})
	if got := alerts(t, db); !got[1].Withdrawn.IsZero() || got[0].Withdrawn.IsZero() || got[2].Withdrawn.IsZero() {
		t.Errorf("%+v, want the second to stand again and the others withdrawn", got)
	}
}

func TestAlertWithAnotherOnsetSupersedes(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	first, second, other := alert(detect.NightLeak, noon), alert(detect.NightLeak, noon.Add(-10*time.Minute)), alert(detect.NightLeak, noon.Add(-9*time.Hour))
	other.Cleared = noon.Add(-8 * time.Hour)
	save(t, db, Progress{Alerts: []detect.Alert{first}})
	save(t, db, Progress{Alerts: []detect.Alert{alert(detect.MeterDead, noon), other, second}, Rerun: &Rerun{From: noon.AddDate(0, 0, -1)}})
	for _, a := range alerts(t, db) {
		if want := map[string]string{first.ID: second.ID}[a.ID]; a.Superseded != want || (a.ID == first.ID) == a.Withdrawn.IsZero() {
			t.Errorf("%+v is superseded by %q, want %q", a, a.Superseded, want)
		}
	}
	save(t, db, Progress{Alerts: []detect.Alert{first}})
	if got := alerts(t, db); slices.ContainsFunc(got, func(a Alert) bool { return a.Superseded != "" || !a.Withdrawn.IsZero() }) {
		t.Errorf("%+v, want the first to stand again", got)
	}
}

func TestRegenerationKeepsNaN(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	r := regeneration.Record{Start: noon, End: noon.Add(time.Hour), Phases: []regeneration.Phase{{Name: detect.BrineDraw, Start: noon, Duration: time.Minute, DrainLitres: math.NaN(), BrineLitres: 5}},
		BrineLitres: 7.5, DrainLitres: math.NaN()}
	for range 2 {
		save(t, db, Progress{Regenerations: []Regeneration{{Record: r}}})
	}
	got, err := db.Regenerations(context.Background(), "a", noon, noon.Add(time.Second))
	if err != nil || len(got) != 1 || got[0].Entry != nil {
		t.Fatalf("%+v %v", got, err)
	}
	if rec := got[0].Record; rec.BrineLitres != 7.5 || !math.IsNaN(rec.DrainLitres) || !math.IsNaN(rec.Phases[0].DrainLitres) || !rec.Start.Equal(noon) {
		t.Errorf("%+v %v", got, err)
	}
	if got, err := db.Regenerations(context.Background(), "a", noon.Add(1), noon.Add(time.Hour)); err != nil || len(got) != 0 {
		t.Errorf("%v %v, want none", got, err)
	}
}

func TestEntryIsKept(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	r := regeneration.Record{Start: noon, End: noon.Add(time.Hour)}
	e := books.Entry{Start: noon, Salt: 2.7, Removed: books.Unknown(), Brine: books.Figure{Value: books.Unknown(), Programme: 7.5},
		Missing: []detect.Phase{detect.Refill}, Reasons: []books.Reason{books.RefillNone}}
	save(t, db, Progress{Regenerations: []Regeneration{{Record: r}}})
	save(t, db, Progress{Regenerations: []Regeneration{{r, &e}}}) // a re-run books what an older version did not
	got, err := db.Regenerations(context.Background(), "a", noon, noon.Add(time.Second))
	if err != nil || len(got) != 1 || got[0].Entry == nil {
		t.Fatalf("%+v %v", got, err)
	}
	if k := got[0].Entry; k.Salt != 2.7 || k.Removed.Known() || k.Brine.Value.Known() || k.Brine.Programme != 7.5 ||
		!slices.Equal(k.Missing, e.Missing) || !slices.Equal(k.Reasons, e.Reasons) || !k.Start.Equal(noon) {
		t.Errorf("%+v, want %+v", k, e)
	}
}

// A store made before entries were kept is brought to the newest form with its
// regenerations.
func TestOlderStoreIsBroughtUp(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.db")
	db := open(t, path)
	save(t, db, Progress{Regenerations: []Regeneration{{Record: regeneration.Record{Start: noon, End: noon.Add(time.Hour), BrineLitres: 3}}}})
	provider, err := migrator(db.sql)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := provider.DownTo(context.Background(), 1); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenToRead(path); !errors.Is(err, ErrOlder) {
		t.Errorf("read an older store: %v", err)
	}
	got, err := open(t, path).Regenerations(context.Background(), "a", noon, noon.Add(time.Second))
	if err != nil || len(got) != 1 || got[0].Entry != nil || got[0].Record.BrineLitres != 3 {
		t.Errorf("%+v %v", got, err)
	}
}

func TestReadingDoesNotWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "with space?.db")
	if _, err := OpenToRead(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("opened what is not there: %v", err)
	}
	writer := open(t, path)
	reader, err := OpenToRead(path)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	save(t, writer, Progress{Snapshots: []Snapshot{{noon, []byte("x")}}}) // seen while the other process goes on
	if s, ok, err := reader.SnapshotBefore(context.Background(), "a", noon); !ok || err != nil || string(s.Data) != "x" {
		t.Errorf("%v %v %v", s, ok, err)
	}
	if err := reader.WantRerun(context.Background(), "a", noon); err == nil {
		t.Error("wrote to a store opened to read")
	}
}

func TestRerunIsWantedFromTheOldest(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	for _, at := range []time.Time{noon, noon.Add(-time.Hour), noon.Add(time.Hour)} {
		if err := db.WantRerun(context.Background(), "a", at); err != nil {
			t.Fatal(err)
		}
	}
	since, ok, err := db.WantedRerun(context.Background(), "a")
	if err != nil || !ok || !since.Equal(noon.Add(-time.Hour)) {
		t.Errorf("%v %v %v", since, ok, err)
	}
	// One that came while the re-run was at work, from before its beginning, stays.
	save(t, db, Progress{Rerun: &Rerun{From: noon}})
	if _, ok, _ := db.WantedRerun(context.Background(), "a"); !ok {
		t.Error("a re-run that did not go back far enough is taken for done")
	}
}

func TestHomes(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	want := []Home{{"a", "x: 1"}, {"b", "y"}}
	for _, h := range []Home{{"b", "y"}, {"a", "x: 0"}, {"a", "x: 1"}} {
		if err := db.SaveHome(context.Background(), h); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Homes(context.Background()); err != nil || !slices.Equal(got, want) {
		t.Errorf("%v %v, want %v", got, err, want)
	}
}

func TestSnapshotsThinOut(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "a.db"))
	const every = 6 * time.Hour
	for i := range 4 * 200 { // 200 days
		save(t, db, Progress{Snapshots: []Snapshot{{noon.Add(time.Duration(i) * every), []byte{byte(i)}}}})
	}
	newest := noon.Add(4*200*every - every)
	marks, err := db.Watermarks(context.Background(), "a")
	if err != nil || len(marks) > 25 {
		t.Fatalf("%d snapshots, want few: %v %v", len(marks), marks, err)
	}
	for i := 1; i < len(marks); i++ {
		if gap, age := marks[i-1].Sub(marks[i]), newest.Sub(marks[i]); gap > every && gap > age/2 {
			t.Errorf("a gap of %v at an age of %v", gap, age)
		}
	}
	if !marks[len(marks)-1].Equal(noon) {
		t.Errorf("the oldest is %v, want the first", marks[len(marks)-1])
	}
	s, ok, err := db.SnapshotBefore(context.Background(), "a", newest.Add(-time.Hour))
	if err != nil || !ok || !s.Watermark.Equal(newest.Add(-every)) {
		t.Errorf("%v %v %v, want the last but one", s, ok, err)
	}
	if _, ok, err := db.SnapshotBefore(context.Background(), "a", noon.Add(-1)); ok || err != nil {
		t.Errorf("a snapshot before the first, %v", err)
	}
}
