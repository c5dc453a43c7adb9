package casebook

import (
	"context"
	"database/sql"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// stories is how many are told: each goes through a real store.
const stories = "40"

func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if !given {
		if err := flag.Set("rapid.checks", stories); err != nil {
			panic(err)
		}
	}
	m.Run()
}

// story is what has happened to a home's alerts so far.
type story struct {
	s      *scene
	alerts []detect.Alert // as last stored; the engine holds those of the last run
	gone   map[string]bool
}

// Whatever happens to alerts, whenever the casebook looks, and however often it
// is restarted: every alert that stands is in exactly one case that is not
// joined to another, each case is what its steps say, and looking once more
// changes nothing.
func TestEveryStoryIsKeptExactly(t *testing.T) {
	dir := t.TempDir()
	fresh := filepath.Join(dir, "fresh.db") // migrated once and copied, which is quicker
	db, err := state.Open(context.Background(), fresh, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	empty, err := os.ReadFile(fresh)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		path, err := os.MkdirTemp(dir, "")
		if err != nil {
			t.Fatal(err)
		}
		s := &scene{t: t, path: filepath.Join(path, "state.db"), now: noon}
		if err := os.WriteFile(s.path, empty, 0o600); err != nil {
			t.Fatal(err)
		}
		s.open()
		defer func() { _ = s.db.Close() }()
		story := &story{s: s, gone: map[string]bool{}}
		for range rapid.IntRange(1, 25).Draw(t, "length") {
			s.now = s.now.Add(time.Duration(rapid.IntRange(1, 60).Draw(t, "hours")) * time.Hour)
			story.happen(t)
		}
		s.take()
		story.check(t)
		steps, told := s.steps(), s.told()
		s.open()
		s.store(state.Progress{Home: "a", Alerts: story.standing()})
		s.take()
		if s.steps() != steps || s.told() != told {
			t.Fatalf("a restart made of %d steps %d, of %d to tell %d", steps, s.steps(), told, s.told())
		}
	})
}

func (y *story) standing() (out []detect.Alert) {
	for _, a := range y.alerts {
		if !y.gone[a.ID] {
			out = append(out, a)
		}
	}
	return out
}

func (y *story) happen(t *rapid.T) {
	pick := func() int {
		if len(y.alerts) == 0 {
			return -1
		}
		return rapid.IntRange(0, len(y.alerts)-1).Draw(t, "which")
	}
	switch rapid.SampledFrom([]string{"raise", "raise", "update", "clear", "rerun", "look", "restart", "judge", "act"}).Draw(t, "happens") {
	case "raise":
		kind := rapid.SampledFrom([]detect.Kind{detect.NightLeak, detect.RegenerationFrequent, detect.HardWater, detect.SaltLow, detect.PowerLost, detect.Burst}).Draw(t, "kind")
		a := raised("a", kind, y.s.now.Sub(noon).Hours()/24, rapid.SampledFrom(detect.Causes()).Draw(t, "cause"))
		a.Raised = y.s.now
		y.alerts = append(y.alerts, a)
		y.s.store(state.Progress{Home: "a", Alerts: []detect.Alert{a}})
	case "update":
		if i := pick(); i >= 0 && !y.gone[y.alerts[i].ID] && y.alerts[i].Open() {
			y.alerts[i].Severity = rapid.SampledFrom([]detect.Severity{detect.ActNow, detect.ThisWeek, detect.Plan}).Draw(t, "severity")
			y.s.store(state.Progress{Home: "a", Alerts: y.alerts[i : i+1]})
		}
	case "clear":
		if i := pick(); i >= 0 && !y.gone[y.alerts[i].ID] && y.alerts[i].Open() {
			y.alerts[i].Cleared = y.s.now
			y.s.store(state.Progress{Home: "a", Alerts: y.alerts[i : i+1]})
		}
	case "rerun":
		y.rerun(t)
	case "look":
		y.s.take()
	case "restart":
		y.s.open()
	case "judge":
		y.s.take()
		y.s.judge()
	case "act":
		y.s.take()
		y.act(t)
	}
}

// rerun is a run over all readings that may drop alerts, raise dropped ones
// again, or move an onset.
func (y *story) rerun(t *rapid.T) {
	var found []detect.Alert
	for i, a := range slices.Clone(y.alerts) {
		finds := rapid.SampledFrom([]string{"same", "same", "drop", "move"}).Draw(t, "finds")
		moved := a
		moved.Onset = moved.Onset.Add(-time.Minute)
		moved.ID = detect.AlertID("a", moved.Kind, moved.Onset)
		twice := slices.ContainsFunc(y.alerts, func(x detect.Alert) bool { return x.ID == moved.ID })
		y.gone[a.ID] = finds == "drop" || finds == "move" && !twice
		switch {
		case !y.gone[a.ID]:
			found = append(found, y.alerts[i])
		case finds == "move":
			found = append(found, moved)
			y.alerts = append(y.alerts, moved)
		}
	}
	y.s.store(state.Progress{Home: "a", Alerts: found, Rerun: &state.Rerun{}})
}

func (y *story) act(t *rapid.T) {
	all := y.s.cases()
	if len(all) == 0 {
		return
	}
	c := all[rapid.IntRange(0, len(all)-1).Draw(t, "case")]
	offered := c.Can(care.Technician)
	if len(offered) == 0 {
		return
	}
	do := Doing{Act: rapid.SampledFrom(offered).Draw(t, "act"), Text: "words", Cause: detect.SaltEmpty}
	if do.Act == care.Acknowledge && c.Holder == technician.ID {
		return
	}
	if _, err := y.s.book.Act(context.Background(), technician, c.ID, do); err != nil {
		t.Fatal(err)
	}
}

// check holds the casebook against the stored alerts.
func (y *story) check(t *rapid.T) {
	stored, err := y.s.db.Alerts(context.Background(), "a")
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range stored {
		id, err := y.s.book.OfAlert(context.Background(), a.ID)
		if err != nil && a.Withdrawn.IsZero() {
			t.Fatalf("%s of %s is in no case: %v", a.Kind, a.Raised, err)
		}
		if err != nil {
			continue
		}
		c, err := y.s.book.Case(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		stands := false
		for _, s := range c.Standing {
			stands = stands || s == a.ID
		}
		if want := a.Open() && a.Withdrawn.IsZero(); c.Into != "" || stands != want {
			t.Fatalf("%s stands: %v, in its case %s (joined to %q): %v", a.Kind, want, c.ID, c.Into, stands)
		}
	}
	y.replay(t)
}

// replay goes through the steps of every case with the pure rules.
func (y *story) replay(t *rapid.T) {
	roles := map[int64]care.Role{}
	var ids []string
	err := y.s.db.Each(context.Background(), func(r *sql.Rows) error {
		var seq int64
		var role care.Role
		err := r.Scan(&seq, &role)
		roles[seq] = role
		return err
	}, `SELECT seq, role FROM steps`)
	if err == nil {
		err = y.s.db.Each(context.Background(), func(r *sql.Rows) error {
			var id string
			err := r.Scan(&id)
			ids = append(ids, id)
			return err
		}, `SELECT id FROM cases`)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		stored, err := y.s.book.Case(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		c := care.Case{Home: "a"}
		for _, s := range stored.Steps {
			if c, err = c.Next(s, roles[s.Seq]); err != nil {
				t.Fatalf("case %s: %v", id, err)
			}
		}
		c.Lead = stored.Lead // the steps do not tell it
		if stored.Into != "" {
			stored.Alerts = c.Alerts // they are in the other case now
		}
		if !reflect.DeepEqual(c, stored.Case) {
			t.Fatalf("the steps say %+v,\nstored is %+v", c, stored.Case)
		}
		if said := c.Standing(); stored.Into == "" && !disputed(c) && !slices.Equal(said, stored.Standing) {
			t.Fatalf("by its steps %v stand in case %s, stored is %v", said, id, stored.Standing)
		}
	}
}

// disputed says whether people said of anything in a case that it is not true.
func disputed(c care.Case) bool {
	return slices.ContainsFunc(c.Steps, func(s care.Step) bool { return s.Act == care.NotTrue })
}
