package care_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/care"
)

// raised is an alert of a kind that began so many days after noon, with a sure
// cause when one is given.
func raised(k detect.Kind, day float64, causes ...detect.Cause) detect.Alert {
	onset := noon.Add(time.Duration(day * 24 * float64(time.Hour)))
	a := detect.Alert{ID: detect.AlertID("h", k, onset), Home: "h", Kind: k, Severity: detect.ThisWeek, Onset: onset, Raised: onset.Add(time.Hour)}
	for _, c := range causes {
		a.Causes = append(a.Causes, detect.CauseShare{Cause: c, Probability: 0.9})
	}
	return a
}

func over(a detect.Alert, day float64) detect.Alert {
	a.Cleared = noon.Add(time.Duration(day * 24 * float64(time.Hour)))
	return a
}

// group puts alerts into cases in the order given, as the casebook does.
func group(t interface{ Fatal(...any) }, alerts ...detect.Alert) []care.File {
	var files []care.File
	for _, a := range alerts {
		b := care.Belongs(a, files)
		i := slices.IndexFunc(files, func(f care.File) bool { return f.Case.ID == b.Case })
		if b.Case == "" {
			c, err := care.Case{Home: "h"}.Next(care.Step{At: a.Raised, Act: care.Raised, Alert: a.ID}, "")
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, care.File{Case: c, Alerts: []detect.Alert{a}})
			continue
		}
		files[i].Alerts = append(files[i].Alerts, a)
		for _, id := range b.Merge {
			j := slices.IndexFunc(files, func(f care.File) bool { return f.Case.ID == id })
			files[i].Alerts = append(files[i].Alerts, files[j].Alerts...)
			files[j].Case.Into, files[j].Alerts = b.Case, nil
		}
	}
	return slices.DeleteFunc(files, func(f care.File) bool { return f.Case.Into != "" })
}

func TestWhatBelongsTogether(t *testing.T) {
	table := []struct {
		name   string
		alerts []detect.Alert
		cases  int
		lead   detect.Kind // of the first case
	}{
		{"a leak, the salt it burns, the regenerations that come early", []detect.Alert{raised(detect.NightLeak, 0, detect.FlapperLeak),
			raised(detect.SaltUseHigh, -15), raised(detect.RegenerationFrequent, 4)}, 1, detect.NightLeak},
		{"the same, the leak last", []detect.Alert{raised(detect.RegenerationFrequent, 4), raised(detect.SaltUseHigh, -15), raised(detect.NightLeak, 0)}, 1, detect.NightLeak},
		{"two cases that one root explains become one", []detect.Alert{raised(detect.HardWater, 3), raised(detect.SensorSilent, 0), raised(detect.PowerLost, 0)}, 1, detect.PowerLost},
		{"worn seals", []detect.Alert{raised(detect.NightLeak, 1, detect.SealsWorn), raised(detect.DrainRunning, 0, detect.SealsWorn)}, 1, detect.DrainRunning},
		{"a leak and a salt bridge have nothing to do with each other", []detect.Alert{raised(detect.NightLeak, 0, detect.FlapperLeak), raised(detect.SaltBridgeKind, 1, detect.SaltBridge)}, 2, detect.NightLeak},
		{"salt that runs low has to be carried whether it leaks or not", []detect.Alert{raised(detect.NightLeak, 0), raised(detect.SaltLow, 1)}, 2, detect.NightLeak},
		{"no salt, weak brine, hard water", []detect.Alert{raised(detect.SaltLow, 0), raised(detect.SaltDrawLow, 9), raised(detect.HardWater, 12)}, 1, detect.SaltLow},
		{"hard for two months, then no salt", []detect.Alert{raised(detect.HardWater, -60), raised(detect.SaltLow, 0)}, 2, detect.HardWater},
		{"an effect long after its root was over", []detect.Alert{over(raised(detect.NightLeak, 0), 3), raised(detect.RegenerationFrequent, 15)}, 2, detect.NightLeak},
		{"the same cause without one explaining the other", []detect.Alert{raised(detect.SaltDrawLow, 0, detect.DrainRestricted), raised(detect.RinseShort, 0, detect.DrainRestricted)}, 1, detect.SaltDrawLow},
		{"two sensors", []detect.Alert{signals(raised(detect.SensorSilent, 0, detect.SensorFault), "brine_level"), signals(raised(detect.SensorStuck, 0, detect.SensorFault), "inlet flow")}, 2, detect.SensorSilent},
		{"one sensor", []detect.Alert{signals(raised(detect.SensorSilent, 0, detect.SensorFault), "brine_level,salt_level"), signals(raised(detect.SensorStuck, 0, detect.SensorFault), "brine level")}, 1, detect.SensorSilent},
		{"a sensor that misleads and what it misled", []detect.Alert{signals(raised(detect.SensorStuck, 0, detect.SensorFault), "brine_level"), raised(detect.SaltDrawLow, 1, detect.SensorFault)}, 1, detect.SensorStuck},
	}
	for _, row := range table {
		files := group(t, row.alerts...)
		if len(files) != row.cases || care.Lead(files[0].Alerts).Kind != row.lead {
			t.Errorf("%s: %d cases led by %s, want %d led by %s", row.name, len(files), care.Lead(files[0].Alerts).Kind, row.cases, row.lead)
		}
	}
}

func signals(a detect.Alert, names string) detect.Alert {
	a.Evidence = detect.Evidence{"signals": names}
	return a
}

// An effect that two cases share goes to one and does not make them one.
func TestSharedEffectDoesNotMerge(t *testing.T) {
	short := raised(detect.CapacityShort, 5, detect.FlapperLeak)
	files := group(t, raised(detect.SaltLow, 0, detect.SaltEmpty), raised(detect.NightLeak, 1, detect.FlapperLeak), short)
	if len(files) != 2 || !slices.ContainsFunc(files[1].Alerts, func(a detect.Alert) bool { return a.ID == short.ID }) {
		t.Errorf("%+v, want the shortage with the leak", files)
	}
}

func TestClosedCaseTakesBackOnlyWhatCameBack(t *testing.T) {
	closed := group(t, over(raised(detect.NightLeak, 0, detect.FlapperLeak), 2))
	c, err := closed[0].Case.Next(care.Step{At: noon, By: "m", Act: care.Close}, care.Manager)
	if err != nil {
		t.Fatal(err)
	}
	closed[0].Case = c
	for k, want := range map[detect.Kind]string{detect.NightLeak: c.ID, detect.RegenerationFrequent: "", detect.Burst: ""} {
		if b := care.Belongs(raised(k, 5, detect.FlapperLeak), closed); b.Case != want {
			t.Errorf("%s goes to %q, want %q", k, b.Case, want)
		}
	}
	if b := care.Belongs(raised(detect.NightLeak, 30), closed); b.Case != "" {
		t.Errorf("a leak a month later goes to %q", b.Case)
	}
}

// The relation has no circles, so that every case has a root.
func TestNothingExplainsItself(t *testing.T) {
	for _, k := range detect.Kinds() {
		if care.Explains(k, k) {
			t.Errorf("%s explains itself", k)
		}
	}
}

// Whatever comes in whatever order, each alert is in one case, led by one of its
// own that no other of it explains.
func TestEveryAlertIsInOneCase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var alerts []detect.Alert
		for i := range rapid.IntRange(1, 12).Draw(t, "n") {
			a := raised(rapid.SampledFrom(detect.Kinds()).Draw(t, "kind"), float64(rapid.IntRange(0, 60).Draw(t, "day"))+float64(i)/1000,
				rapid.SampledFrom(detect.Causes()).Draw(t, "cause"))
			if rapid.Bool().Draw(t, "over") {
				a.Cleared = a.Onset.Add(72 * time.Hour)
			}
			alerts = append(alerts, a)
		}
		seen := map[string]int{}
		for _, f := range group(t, alerts...) {
			lead := care.Lead(f.Alerts)
			for _, a := range f.Alerts {
				seen[a.ID]++
				if care.Explains(a.Kind, lead.Kind) && !lead.Onset.Before(a.Onset) {
					t.Fatalf("the case is led by %s, which %s explains", lead.Kind, a.Kind)
				}
			}
		}
		for _, a := range alerts {
			if seen[a.ID] != 1 {
				t.Fatalf("%s is in %d cases", a.Kind, seen[a.ID])
			}
		}
	})
}
