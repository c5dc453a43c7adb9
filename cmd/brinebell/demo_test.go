package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/simulator"
)

// A folder goes on with the demo that it began, whatever the day; the last
// simulated day is yesterday.
func TestDemoGoesOnInItsFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	now := time.Date(2026, 5, 7, 13, 0, 0, 0, time.UTC)
	first, err := planDemo(dir, 7, now)
	if err != nil || !first.Start.AddDate(0, 0, simulator.DemoDays).Equal(now.Truncate(24*time.Hour)) {
		t.Fatalf("%+v %v", first, err)
	}
	again, err := planDemo(dir, 7, now.AddDate(0, 1, 0))
	if err != nil || again.Seed != first.Seed || !again.Start.Equal(first.Start) {
		t.Errorf("%+v %v, want %+v", again, err, first)
	}
	if _, err := planDemo(dir, 8, now); err == nil || !strings.Contains(err.Error(), "--seed 7") {
		t.Errorf("another seed: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "demo.json"), []byte("{}"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := planDemo(dir, 7, now); err == nil || !strings.Contains(err.Error(), "another folder") {
		t.Errorf("a broken plan: %v", err)
	}
}

// What an earlier run told is not told again, and not counted as quiet.
func TestTellerKnowsWhatWasTold(t *testing.T) {
	var out bytes.Buffer
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	homes := []detect.Home{detect.DefaultHome("a", time.UTC), detect.DefaultHome("b", time.UTC)}
	teller := newTeller(&out, homes, start)
	old := detect.Alert{ID: "1", Home: "a", Kind: detect.NightLeak, Onset: start, Raised: start}
	teller.know([]detect.Alert{old}, start.AddDate(0, 0, 9))
	teller.greet("http://x/", "y")
	teller.tell([]detect.Alert{old})
	if text := out.String(); !strings.Contains(text, "from day 9; nothing was ever wrong at 1 of them") || strings.Contains(text, "night leak") {
		t.Error(text)
	}
	out.Reset()
	old.Cleared = start.AddDate(0, 0, 9)
	teller.tell([]detect.Alert{old})
	teller.tell([]detect.Alert{old})
	teller.day(start.AddDate(0, 0, 10))
	teller.day(start.AddDate(0, 0, 10).Add(time.Hour))
	if text := out.String(); strings.Count(text, "night leak is over") != 1 || strings.Count(text, "Day 10: nothing was ever wrong at 1 of the 2 homes") != 1 {
		t.Error(text)
	}
	teller.goodbye("/d", true)
	if !strings.Contains(out.String(), "Stopped on day 10. What was stored is kept in /d") {
		t.Error(out.String())
	}
}
