package detect

import (
	"fmt"
	"strings"
	"testing"
)

// Every key that the reader takes is described, and every key described is one
// that the reader takes.
func TestProfileKeysAreThoseOfTheReader(t *testing.T) {
	keys := ProfileKeys()
	if len(keys) < 45 {
		t.Errorf("%d keys", len(keys))
	}
	seen := map[string]bool{}
	for _, k := range keys {
		if seen[k.Path] || k.About == "" {
			t.Errorf("%+v: twice, or says nothing", k)
		}
		seen[k.Path] = true
	}
	for _, path := range []string{"homes", "homes[].id", "homes[].water.hardness", "homes[].softener.capacity", "homes[].softener.cycle[].phase",
		"homes[].brine_tank.salt_void", "homes[].meters.service.position", "homes[].costs.currency", "homes[].away[].from", "homes[].bypassed"} {
		if !seen[path] {
			t.Errorf("%s is not described", path)
		}
	}
	if seen["homes[].meters.inlet.position"] {
		t.Error("an inlet meter has no position")
	}
}

// The defaults that are told are those that a home gets.
func TestDescribedDefaultsAreTheReaders(t *testing.T) {
	for _, k := range ProfileKeys() {
		key, ok := strings.CutPrefix(k.Path, "homes[].")
		if !ok || k.Default == "" || strings.Contains(key, "[]") || strings.HasPrefix(key, "meters") {
			continue
		}
		text := fmt.Sprintf("%q", k.Default)
		for _, level := range reversed(strings.Split(key, ".")) {
			text = "{" + level + ": " + text + "}"
		}
		file := "homes:\n  - {id: a, timezone: UTC, " + strings.TrimPrefix(text, "{") + "\n"
		homes, err := ReadHomes("h.yaml", strings.NewReader(file))
		if err != nil {
			t.Errorf("%s: its default %q cannot be read: %v", k.Path, k.Default, err)
			continue
		}
		want, _ := ReadHomes("h.yaml", strings.NewReader("homes: [{id: a, timezone: UTC}]"))
		if got, want := fmt.Sprintf("%+v", homes[0]), fmt.Sprintf("%+v", want[0]); got != want {
			t.Errorf("%s: its default %q makes\n%s\nnot\n%s", k.Path, k.Default, got, want)
		}
	}
}

func reversed(s []string) (out []string) {
	for i := range s {
		out = append(out, s[len(s)-1-i])
	}
	return out
}

// Numbers that are more likely grains than mg/L are remarked on, and only those.
func TestBareHardnessIsRemarkedOn(t *testing.T) {
	for text, want := range map[string]bool{"12": true, "59.9": true, "60": false, "300": false, "12 gpg": false, "12 mg/L": false, "0": false} {
		var notes []string
		_, err := ReadHomesNoting("h.yaml", strings.NewReader("homes:\n  - id: a\n    timezone: UTC\n    water: {hardness: "+text+"}\n"),
			func(n string) { notes = append(notes, n) })
		if err != nil || (len(notes) == 1) != want {
			t.Errorf("%s: %q %v", text, notes, err)
		}
		if want && !strings.Contains(notes[0], "h.yaml:4: homes[0].water.hardness: read as "+text+" mg/L") {
			t.Error(notes)
		}
	}
}
