package main

import (
	"context"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/engine"
	"brinebell/simulator"
)

// The demonstration names the right cause first, when it first speaks and ever
// after: whoever watches it sees what the homes' troubles are.
func TestDemoNamesItsCauses(t *testing.T) {
	if testing.Short() {
		t.Skip("two simulated weeks of six homes")
	}
	want := map[string]detect.Cause{"mill-lane-4": detect.FlapperLeak, "station-road-12": detect.MeterJammed, "orchard-close-2": detect.InjectorClogged,
		"chapel-street-9": detect.SealsWorn, "quarry-row-1": detect.SaltBridge}
	start := time.Date(2026, 4, 6, 0, 0, 0, 0, time.UTC)
	town, err := simulator.DemoTown(demoSeed, start)
	if err != nil {
		t.Fatal(err)
	}
	e := engine.New(town.Homes(), engine.Options{})
	first, told := map[string]detect.Cause{}, map[string]bool{}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	for a, err := range town.Arrivals(ctx) {
		if err != nil {
			t.Fatal(err)
		}
		if a.Arrived.Sub(start) > 14*24*time.Hour {
			break
		}
		e.Observe(a.Reading)
		for _, x := range e.Take() {
			if !x.Open() || len(x.Causes) == 0 {
				continue
			}
			c := x.Causes[0]
			if first[x.Home] == "" {
				first[x.Home] = c.Cause
			}
			if key := x.ID + string(c.Cause); c.Cause != want[x.Home] && !told[key] {
				told[key] = true
				t.Errorf("%s %s %s: %s with %.0f %% first, want %s", x.Home, a.Arrived.Format("2 January 15:04"), x.Kind, c.Cause, 100*c.Probability, want[x.Home])
			}
		}
	}
	for home, c := range want {
		if first[home] != c {
			t.Errorf("%s: %q first told, want %s", home, first[home], c)
		}
	}
}
