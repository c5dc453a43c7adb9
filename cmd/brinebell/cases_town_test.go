package main

import (
	"cmp"
	"context"
	"flag"
	"io"
	"slices"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/engine"
	"brinebell/simulator"
	"brinebell/simulator/corpus"
)

var casesHomes = flag.Int("cases-homes", 0, "simulated homes, each with a fault, whose alerts are gathered into cases and counted")

// gather puts a home's alerts into cases in the order in which they were raised,
// each as it was known then, as the casebook does.
func gather(t *testing.T, alerts []detect.Alert) (files []care.File) {
	t.Helper()
	alerts = slices.SortedFunc(slices.Values(alerts), func(a, b detect.Alert) int { return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.ID, b.ID)) })
	for _, a := range alerts {
		b := care.Belongs(a, asOf(files, a.Raised))
		if b.Case == "" {
			c, err := care.Case{Home: a.Home}.Next(care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID}, "")
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, care.File{Case: c, Alerts: []detect.Alert{a}})
			continue
		}
		into := fileOf(files, b.Case)
		into.Alerts = append(into.Alerts, a)
		for _, id := range b.Merge {
			from := fileOf(files, id)
			into.Alerts, from.Alerts, from.Case.Into = append(into.Alerts, from.Alerts...), nil, b.Case
		}
	}
	return slices.DeleteFunc(files, func(f care.File) bool { return f.Case.Into != "" })
}

func fileOf(files []care.File, id string) *care.File {
	return &files[slices.IndexFunc(files, func(f care.File) bool { return f.Case.ID == id })]
}

// asOf is what was known at a time: what was over later still stood, and a case
// of which all was over was watched.
func asOf(files []care.File, at time.Time) (out []care.File) {
	for _, f := range files {
		v := care.File{Case: f.Case}
		for _, a := range f.Alerts {
			if a.Cleared.After(at) {
				a.Cleared = time.Time{}
			}
			v.Alerts = append(v.Alerts, a)
		}
		if !slices.ContainsFunc(v.Alerts, detect.Alert.Open) {
			v.Case.Stage = care.Watched
		}
		out = append(out, v)
	}
	return out
}

// Each home of the demonstration has one trouble, and so one case, led by an
// alert that names its cause.
func TestOneTroubleOfTheDemoIsOneCase(t *testing.T) {
	if testing.Short() {
		t.Skip("two simulated weeks of six homes")
	}
	start := time.Date(2026, 4, 6, 0, 0, 0, 0, time.UTC)
	town, err := simulator.DemoTown(demoSeed, start)
	if err != nil {
		t.Fatal(err)
	}
	alerts := map[string]map[string]detect.Alert{}
	e := engine.New(town.Homes(), engine.Options{})
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
			if alerts[x.Home] == nil {
				alerts[x.Home] = map[string]detect.Alert{}
			}
			alerts[x.Home][x.ID] = x
		}
	}
	for _, truth := range town.Truth() {
		if detect.Cause(truth.Fault) == detect.AwayFromHome {
			continue // no trouble, and nothing to tell of so short a holiday
		}
		var all []detect.Alert
		for _, a := range alerts[truth.Home] {
			all = append(all, a)
		}
		files := gather(t, all)
		if len(files) != 1 || care.FirstCause(care.Lead(files[0].Alerts)).Cause != detect.Cause(truth.Fault) {
			t.Errorf("%s has %d alerts in %d cases: %+v; want one, of %s", truth.Home, len(all), len(files), files, truth.Fault)
		}
	}
}

// TestOneTroubleIsOneCase counts, over homes with one fault each, how many of
// those that led to alerts led to one case. What a holiday explains is a matter of
// its own, and salt that runs low is one by intent.
func TestOneTroubleIsOneCase(t *testing.T) {
	if *casesHomes == 0 {
		t.Skip("give -cases-homes N; each takes some seconds")
	}
	spec, err := corpus.Load("../../testdata/corpora/each-fault.yaml")
	if err != nil {
		t.Fatal(err)
	}
	spec.Homes = *casesHomes
	in, err := scoreTown(t.Context(), streams{err: io.Discard}, townRun{spec: spec, part: corpus.Train})
	if err != nil {
		t.Fatal(err)
	}
	one, several, alerts := 0, 0, 0
	for _, episode := range in.Episodes {
		if episode.Fault == detect.AwayFromHome {
			continue
		}
		var of []detect.Alert
		for _, a := range in.Alerts {
			if a.Home == episode.Home && a.Raised.After(episode.Start) && a.Raised.Before(episode.End) && a.Kind != detect.Stagnant && a.Kind != detect.SaltLow {
				of = append(of, a)
			}
		}
		alerts += len(of)
		switch n := len(gather(t, of)); n {
		case 0: // not found
		case 1:
			one++
		default:
			several++
			t.Logf("%s, %s: %d alerts in %d cases", episode.Home, episode.Fault, len(of), n)
		}
	}
	t.Logf("%d faults with %d alerts are one case each, %d are more", one, alerts, several)
	if several*5 > one+several {
		t.Errorf("more than one fault in five is more than one case")
	}
}
