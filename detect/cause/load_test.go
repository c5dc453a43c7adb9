package cause

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
)

// changed is the built-in table with one text replaced in one file.
func changed(t *testing.T, name, from, to string) fs.FS {
	t.Helper()
	all := fstest.MapFS{}
	for _, f := range []string{"causes", "findings", "numbers", "symptoms", "hardness", "checks"} {
		path := "table/" + f + ".yaml"
		text, err := fs.ReadFile(files, path)
		if err != nil {
			t.Fatal(err)
		}
		if f == name {
			if !strings.Contains(string(text), from) {
				t.Fatalf("%s has no %q", name, from)
			}
			text = []byte(strings.Replace(string(text), from, to, 1))
		}
		all[path] = &fstest.MapFile{Data: text}
	}
	return all
}

// Whatever is wrong with a table is named with its file and line.
func TestLoadNamesWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ file, from, to, want string }{
		{"causes", "[salt_mush, 0.03,", "[salt_slush, 0.03,", `causes.yaml:32: unknown cause "salt_slush"`},
		{"causes", "[salt_mush, 0.03,", "[salt_mush, 0,", "rare causes stay possible"},
		{"causes", "over years, practice]", "over years, hearsay]", "needs a reason and a source"},
		{"causes", "window_days: 60", "window_days: 0", "window_days"},
		{"causes", "[away_from_home, 10, holidays", "[away_from_home, 0, holidays", "lasts days above 0"},
		{"findings", "[flapper_leak, 0.92, refills day and night, epa]", "[flapper_leak, 1.2, refills day and night, epa]", "between 0 and 1"},
		{"findings", "[flapper_leak, 0.92, refills day and night, epa]", "[flapper_leak, 0.92, '', epa]", "needs a reason"},
		{"findings", "[flapper_leak, [0.13, 0.75, 0.12]", "[flapper_leak, [0.13, 0.75, 0.22]", "sum to 1.1"},
		{"findings", "kind: burst", "kind: flood", "burst has no entry"},
		{"findings", "needs: [drain_flow]", "needs: [drain_flaw]", "drain_flaw"},
		{"findings", "- [dripping_fixture, 0.035, 3,", "- [flapper_leak, 0.035, 3,", "has two rows"},
		{"findings", "missed: 0.08", "mist: 0.08", "mist"},
		{"numbers", "[salt_bridge, [1, 0.6, 0.4], 1.45,", "[salt_bridge, [1, 0.6], 1.45,", "where its other rows have"},
		{"numbers", "[salt_bridge, [1, 0.6, 0.4], 1.45,", "[salt_bridge, [1, 0.6, 0], 1.45,", "a median above 0"},
		{"numbers", "[salt_bridge, [1, 0.6, 0.4], 1.45,", "[salt_bridge, [1, 0.6, 0.4], 0.3,", "a factor above 1"},
		{"numbers", "key: backwash_share", "key: backflush_share", "needs a name in evidence.yaml"},
		{"numbers", "usual: [1, 1.07]", "usual: [1]", "needs a key, least, doubt"},
		{"symptoms", "[meter_jammed, 0.70, no", "[meter_jammed, 0.70, 0.3, 0.1, no", "3 numbers where 2 belong"},
		{"hardness", "none: [0.95, 0.05]", "none: [0.95, 0.06]", "sum to 1.01"},
		{"hardness", "factor: 1.8, source", "factor: 0.8, source", "factor above 1"},
		{"checks", "[salt_empty, [0.01, 0.14, 0.85]", "[salt_empty, [0.01, 0.14]", "2 numbers where 3 belong"},
		{"checks", "who: household", "who: neighbour", "needs asks, minutes, who"},
	} {
		_, err := Load(changed(t, c.file, c.from, c.to))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s with %q: %v, want %q", c.file, c.to, err, c.want)
		}
	}
	if _, err := Load(fstest.MapFS{}); err == nil {
		t.Error("no files, no error")
	}
}

// Identifiers of symptoms, checks and outcomes are what people type: each once,
// and a check's outcomes tell different things.
func TestIdentifiersAreUnique(t *testing.T) {
	m, seen := Standard(), map[string]bool{}
	once := func(id string) {
		if id == "" || seen[id] {
			t.Errorf("%q is empty or twice there", id)
		}
		seen[id] = true
	}
	for _, s := range m.symptoms {
		once(s.ID)
		if s.Asks == "" || s.Says == "" {
			t.Errorf("%s has no words", s.ID)
		}
	}
	for _, c := range m.checks {
		once(c.ID)
		for _, o := range c.Outcomes {
			once(c.ID + "=" + o.ID)
			if o.Says == "" || o.Means == "" {
				t.Errorf("%s=%s has no words", c.ID, o.ID)
			}
		}
	}
	if len(m.symptoms) != 12 {
		t.Errorf("%d symptoms", len(m.symptoms))
	}
}
