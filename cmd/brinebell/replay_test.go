package main

import (
	"strings"
	"testing"
)

// aRecording writes a homes file with one home and a recording with these lines.
func aRecording(t *testing.T, lines ...string) (homes, record string) {
	t.Helper()
	return writeFile(t, "homes.yaml", "homes:\n  - id: a\n    timezone: UTC\n    water: {hardness: 20}\n"),
		writeFile(t, "r.csv", "time,home,signal,value\n"+strings.Join(lines, "\n")+"\n")
}

// What was left out is named and summed up on standard error; standard output
// has the alerts only.
func TestReplaySaysWhatWasLeftOut(t *testing.T) {
	homes, record := aRecording(t, "2026-03-01T00:00:00Z,a,inlet_flow,0", "2026-03-01T00:01:00,a,inlet_flow,0", "2026-03-01T00:02:00Z,a,inlet_flows,0",
		"2026-03-01T00:03:00Z,b,inlet_flow,0", "2026-03-01T00:04:00Z,a,inlet_flow,0")
	code, out, errOut := command(t, "replay", "--homes", homes, record)
	if code != exitDone || out != "2 readings of 1 home, 0 regenerations, 0 alerts.\n" {
		t.Errorf("exit %d: %s", code, out)
	}
	for _, want := range []string{"r.csv:3: time", "does not say its zone", "r.csv:4: unknown signal", "inlet_flow is near", `home "b" has no profile in the homes file: its 1 reading was left out`,
		"2 bad lines were left out, in 1 file", "note: ", "write 20 gpg if grains per gallon were meant"} {
		if !strings.Contains(errOut, want) {
			t.Errorf("standard error does not say %q:\n%s", want, errOut)
		}
	}
	if code, out, _ := command(t, "replay", "--homes", homes, "--format", "json", record); code != exitDone || out != "" {
		t.Errorf("json: exit %d, %q", code, out)
	}
}

func TestStrictReplayStops(t *testing.T) {
	homes, record := aRecording(t, "2026-03-01T00:00:00Z,a,inlet_flow,0", "2026-03-01T00:03:00Z,b,inlet_flow,0")
	if code, out, errOut := command(t, "replay", "--homes", homes, "--strict", record); code != exitUsage || out != "" || !strings.Contains(errOut, `r.csv:3: home "b" has no profile`) {
		t.Errorf("exit %d: %s%s", code, out, errOut)
	}
}

func TestCounts(t *testing.T) {
	for n, want := range map[int64]string{-1234: "-1,234 homes", 0: "0 homes", 1: "1 home", 2: "2 homes", 999: "999 homes", 1000: "1,000 homes", 1234567: "1,234,567 homes"} {
		if got := count(n, "home"); got != want {
			t.Errorf("%d: %s", n, got)
		}
	}
}
