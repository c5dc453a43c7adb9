package engine

import (
	"cmp"
	"encoding/json"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

// threeNights is a home that regenerates on the second and the third night by its
// programme: a draw of brine, rinses and a refill, all at the profile's flows.
func threeNights(h *detect.Home) (all []detect.Reading) {
	start := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	level := 250.0
	for second := 0; second < 70*3600; second += 30 {
		at := start.Add(time.Duration(second) * time.Second)
		inlet, drain := 0.0, 0.0
		if m := at.Hour()*60 + at.Minute(); m >= 420 && m < 450 {
			inlet = 9
		}
		if into := at.Sub(at.Truncate(24 * time.Hour).Add(h.Softener.RegenerationTime)); into >= 0 && second > 24*3600 {
			for _, step := range h.Softener.Cycle {
				if into < step.Duration {
					if step.Phase != detect.Refill {
						drain = step.Flow
					}
					inlet += step.Flow
					level += map[detect.Phase]float64{detect.BrineDraw: -1, detect.Refill: 15}[step.Phase] * 30 / 60
					break
				}
				into -= step.Duration
			}
		}
		for signal, v := range map[detect.Signal]float64{detect.InletFlow: inlet, detect.DrainFlow: drain, detect.BrineLevel: level} {
			all = append(all, detect.Reading{Home: h.ID, Signal: signal, Time: at, Value: v})
		}
	}
	slices.SortFunc(all, func(a, b detect.Reading) int { return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Signal, b.Signal)) })
	return all
}

// told is all that an engine says of a home after its readings.
func told(t interface{ Fatal(...any) }, h detect.Home, readings []detect.Reading) string {
	e := New([]detect.Home{h}, Options{})
	for _, r := range readings {
		if o := e.Observe(r); o != Accepted {
			t.Fatal(r, o)
		}
	}
	e.Flush(h.ID)
	b, _ := e.Books(h.ID)
	records := e.Regenerations()
	if len(records) != 2 {
		t.Fatal("regenerations: ", len(records))
	}
	entries := make([]any, 0, 2*len(records))
	for _, r := range records {
		entries = append(entries, r.Entry, r.Record.Start, r.Record.End, r.Record.Confidence)
	}
	text, err := json.Marshal([]any{b, entries, e.Take()})
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The books, the regenerations and the alerts do not depend on the order in which
// readings arrive within the lateness window.
func TestLedgerDoesNotDependOnTheOrderOfArrival(t *testing.T) {
	h := detect.DefaultHome("a", time.UTC)
	h.Meters.Inlet, h.Meters.Drain = &detect.Meter{Pulse: 0.1}, &detect.Meter{Pulse: 0.1}
	readings := threeNights(&h)
	want := told(t, h, readings)
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.IntRange(1, 59).Draw(t, "delayed by up to, s")
		seed := rapid.Uint64().Draw(t, "seed")
		arrival := func(i int) int64 { // a delay of its own for each reading, by Knuth's multiplicative hash
			hash := (uint64(i)*2654435761 + seed) * 6364136223846793005 >> 33
			return readings[i].Time.UnixMilli() + int64(hash%uint64(1000*most))
		}
		order := make([]int, len(readings))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(arrival(a), arrival(b)) })
		shuffled := make([]detect.Reading, len(readings))
		for i, from := range order {
			shuffled[i] = readings[from]
		}
		if got := told(t, h, shuffled); got != want {
			t.Fatalf("delayed by up to %d s:\n%s\nin order:\n%s", most, got, want)
		}
	})
}
