package score

import (
	"bytes"
	"encoding/json"
	"flag"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

var update = flag.Bool("update", false, "rewrite the expected texts")

// smallTown is three homes in two of which something broke, and one that is
// well but for an alert too many.
func smallTown() Input {
	in := Input{Intn: rand.New(rand.NewPCG(1, 1)).IntN, LeakFlow: drips}
	for _, id := range []string{"c", "a", "b"} {
		in.Exposures = append(in.Exposures, Exposure{id, at(-30), at(90)})
		h := detect.DefaultHome(id, time.UTC)
		h.Meters.Inlet = &detect.Meter{Pulse: 0.1, StartingFlow: 0.06}
		in.Sights = append(in.Sights, Sight{Profile: h, Signals: []detect.Signal{detect.InletVolume, detect.DrainVolume, detect.BrineLevel}})
	}
	put := func(home string, e Episode) {
		e.Home = home
		in.Episodes = append(in.Episodes, e)
	}
	put("b", episode(detect.SealsWorn, 0, 30))
	put("b", episode(detect.DrippingFixture, 2, 40))
	put("a", episode(detect.FlapperLeak, 0, 10))
	put("a", episode(detect.FlapperLeak, 40, 50))
	put("a", episode(detect.ResinSpent, 0, 60))
	put("a", episode(detect.AwayFromHome, 55, 58))
	put("elsewhere", episode(detect.FlapperLeak, 0, 10))
	say := func(home string, a detect.Alert) {
		a.Home = home
		in.Alerts = append(in.Alerts, a)
	}
	say("a", over(alert("a1", detect.NightLeak, 2.5, detect.FlapperLeak, detect.DrippingFixture), 12))
	say("b", alert("b1", detect.DrainRunning, 0.25, detect.DriveFailed, detect.SealsWorn))
	say("b", alert("b2", detect.SaltUseHigh, 9, detect.SealsWorn))
	urgent := alert("c1", detect.Burst, 4, detect.FixtureLeftOpen)
	urgent.Severity = detect.ActNow
	say("c", urgent)
	return in
}

func TestReportAsText(t *testing.T) {
	var b bytes.Buffer
	if err := New(smallTown()).WriteText(&b); err != nil {
		t.Fatal(err)
	}
	const path = "testdata/small.txt"
	if *update {
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", &b, want)
	}
}

// The order in which things are given leaves no trace.
func TestReportDoesNotDependOnOrder(t *testing.T) {
	write := func(in Input) string {
		b, err := json.Marshal(New(in))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	want := write(smallTown())
	for seed := range uint64(5) {
		in := smallTown()
		r := rand.New(rand.NewPCG(seed, 9))
		r.Shuffle(len(in.Alerts), func(i, j int) { in.Alerts[i], in.Alerts[j] = in.Alerts[j], in.Alerts[i] })
		r.Shuffle(len(in.Episodes), func(i, j int) { in.Episodes[i], in.Episodes[j] = in.Episodes[j], in.Episodes[i] })
		r.Shuffle(len(in.Exposures), func(i, j int) { in.Exposures[i], in.Exposures[j] = in.Exposures[j], in.Exposures[i] })
		if got := write(in); got != want {
			t.Errorf("shuffled by %d:\n%s\nwant\n%s", seed, got, want)
		}
	}
}

func TestCountsAddUp(t *testing.T) {
	r := New(smallTown())
	for _, f := range r.Faults {
		if f.Episodes != f.Found+f.Missed+f.NotVisible+f.Masked+f.Undecided {
			t.Errorf("%+v", f)
		}
	}
	alerts := 0
	for _, f := range append(slices.Clone(r.False), r.FalseAll) {
		if f.Alerts != f.Right+f.Consequences+f.False {
			t.Errorf("%+v", f)
		}
		alerts += f.Alerts
	}
	if alerts != 2*len(r.Alerts) || r.Unwatched != 1 {
		t.Errorf("%d alerts in the rows of %d; %d unwatched", alerts, len(r.Alerts), r.Unwatched)
	}
}

// What was not measured is no number to a program that reads the report.
func TestNothingMeasuredIsNull(t *testing.T) {
	b, err := json.Marshal(New(smallTown()).Faults)
	if err != nil {
		t.Fatal(err)
	}
	var faults []map[string]any
	if err := json.Unmarshal(b, &faults); err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		measured := f["found"].(float64) > 0
		counted := measured || f["missed"].(float64) > 0
		if (f["median_delay_hours"] != nil) != measured || (f["worst_delay_hours"] != nil) != measured || (f["found_share"] != nil) != counted {
			t.Errorf("%v", f)
		}
	}
}

func TestReportSurvivesBeingKept(t *testing.T) {
	r := New(smallTown())
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	c := Compare(&back, r)
	if len(c.Found)+len(c.Lost)+len(c.Came)+len(c.Went)+c.OnlyNow+c.OnlyThen > 0 || c.Before != c.Now {
		t.Errorf("%+v", c)
	}
}

func TestCompare(t *testing.T) {
	before := New(smallTown())
	in := smallTown()
	in.Alerts = slices.DeleteFunc(in.Alerts, func(a detect.Alert) bool { return a.ID == "b1" })
	for _, a := range []detect.Alert{alert("a9", detect.NightLeak, 43), alert("c2", detect.Burst, 5), alert("c3", detect.Burst, 30), alert("c4", detect.SaltLow, 5)} {
		a.Home = map[bool]string{true: "a", false: "c"}[strings.HasPrefix(a.ID, "a")]
		in.Alerts = append(in.Alerts, a)
	}
	in.Alerts = slices.DeleteFunc(in.Alerts, func(a detect.Alert) bool { return a.ID == "c1" })
	c := Compare(before, New(in))
	if len(c.Found) != 1 || c.Found[0].Now.Fault != detect.FlapperLeak || len(c.Lost) != 1 || c.Lost[0].Now.Fault != detect.SealsWorn {
		t.Errorf("found %+v lost %+v", c.Found, c.Lost)
	}
	// c1 raised a day later as c2 is the same alarm; c3 weeks later is not.
	if len(c.Went) != 0 || len(c.Came) != 2 || c.Came[0].Alert != "c3" || c.Came[1].Alert != "c4" {
		t.Errorf("came %+v went %+v", c.Came, c.Went)
	}
	var b strings.Builder
	if err := c.WriteText(&b); err != nil || !strings.Contains(b.String(), "Found no more: 1\n  b 2026-03-10 seals_worn, severity 0.50: missed, was found\n") {
		t.Errorf("%v\n%s", err, &b)
	}
}

func TestCompareSaysThatHomesDiffer(t *testing.T) {
	in := smallTown()
	in.Episodes = in.Episodes[1:]
	if c := Compare(New(smallTown()), New(in)); c.OnlyThen != 1 || c.OnlyNow != 0 {
		t.Errorf("%+v", c)
	}
}

// A home that only one of the two watched has gained or lost nothing.
func TestCompareLeavesOtherHomesOut(t *testing.T) {
	in := smallTown()
	in.Exposures = slices.DeleteFunc(in.Exposures, func(x Exposure) bool { return x.Home == "c" })
	if c := Compare(New(smallTown()), New(in)); len(c.Went)+len(c.Came) > 0 {
		t.Errorf("went %+v came %+v", c.Went, c.Came)
	}
}

func TestReadTruth(t *testing.T) {
	const good = "home,fault,start,end,severity\nmill-lane-4,flapper_leak,2025-03-05T10:00:00Z,2025-04-01T00:00:00+01:00,0.550\n"
	all, err := ReadTruth("truth.csv", strings.NewReader(good))
	if err != nil || len(all) != 1 || all[0].Severity != 0.55 || all[0].End.Format(time.RFC3339) != "2025-04-01T00:00:00+01:00" {
		t.Errorf("%+v %v", all, err)
	}
	for text, want := range map[string]string{
		"":             "truth.csv: not a truth file",
		"home,fault\n": "truth.csv: not a truth file",
		header + "\na,flood,2025-03-05T10:00:00Z,2025-03-06T10:00:00Z,1\n":          `truth.csv:2: unknown fault "flood"`,
		header + "\na,flapper_leak,yesterday,2025-03-06T10:00:00Z,1\n":              `truth.csv:2: start "yesterday"`,
		header + "\na,flapper_leak,2025-03-07T10:00:00Z,2025-03-06T10:00:00Z,1\n":   "truth.csv:2: ends at",
		header + "\na,flapper_leak,2025-03-05T10:00:00Z,2025-03-06T10:00:00Z,2\n":   `truth.csv:2: severity "2"`,
		header + "\na,flapper_leak,2025-03-05T10:00:00Z,2025-03-06T10:00:00Z,NaN\n": `truth.csv:2: severity "NaN"`,
		header + "\na,flapper_leak,2025-03-05T10:00:00Z,2025-03-06T10:00:00Z\n":     "wrong number of fields",
	} {
		if _, err := ReadTruth("truth.csv", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
