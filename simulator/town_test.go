package simulator

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"golang.org/x/sys/cpu"

	"brinebell/detect"
	"brinebell/simulator/fault"
)

// hashOfRecording is the hash of a small recording with every cause in it.
func hashOfRecording(t *testing.T) string {
	sum := sha256.New()
	causes := detect.Causes()
	homes := someHomes(t, len(causes), 4, "full", func(i int) []fault.Fault {
		return []fault.Fault{{Cause: causes[i], Start: day0.AddDate(0, 0, 1), End: day0.AddDate(0, 0, 3), Severity: 0.7}}
	})
	err := NewTown(homes, 0).Run(context.Background(), func(a Arrival) error {
		_, err := fmt.Fprintf(sum, "%d,%s,%s,%.3f\n", a.Time.UnixMilli(), a.Home, a.Signal, a.Value)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// otherMachine is set when the test runs again as another processor would.
const otherMachine = "BRINEBELL_TEST_OTHER_MACHINE"

// The bytes are the same where the compiler fuses multiplication and addition,
// as it does for most processors but the oldest of this kind.
func TestRecordingIsTheSameOnAnotherMachine(t *testing.T) {
	if os.Getenv(otherMachine) != "" {
		fmt.Println("recording", hashOfRecording(t))
		return
	}
	if testing.Short() || runtime.GOARCH != "amd64" || !cpu.X86.HasFMA || !cpu.X86.HasAVX2 || !cpu.X86.HasBMI2 {
		t.Skip("only a recent amd64 can play two machines, in time that is not short")
	}
	run := exec.Command("go", "test", "-count=1", "-run", "^"+t.Name()+"$", "-v", ".")
	run.Env = append(os.Environ(), "GOAMD64=v3", otherMachine+"=1")
	out, err := run.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if here := hashOfRecording(t); !strings.Contains(string(out), "recording "+here+"\n") {
		t.Errorf("here %s, there\n%s", here, out)
	}
}

func TestArrivalsCanBeLeft(t *testing.T) {
	defer goleak.VerifyNone(t)
	n := 0
	last := time.Time{}
	for a, err := range NewTown(someHomes(t, 3, 60, "common", nil), 0).Arrivals(context.Background()) {
		if err != nil {
			t.Fatal(err)
		}
		if a.Arrived.Before(last) {
			t.Fatalf("%s after %s", a.Arrived, last)
		}
		last = a.Arrived
		if err := a.Check(); err != nil {
			t.Fatal(a, err)
		}
		if n++; n == 10_000 {
			break
		}
	}
	if n != 10_000 {
		t.Errorf("%d arrivals", n)
	}
}

func TestRunEndsWithItsContext(t *testing.T) {
	defer goleak.VerifyNone(t)
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err := NewTown(someHomes(t, 3, 400, "full", nil), 0).Run(ctx, func(Arrival) error {
		if n++; n == 1000 {
			cancel()
		}
		return nil
	})
	if err != context.Canceled {
		t.Errorf("%v after %d", err, n)
	}
}

// The demonstration begins with quiet days, then has five troubles of its own
// and one home that is well.
func TestDemoTown(t *testing.T) {
	town, err := DemoTown(1, day0)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[detect.Cause]bool{}
	for _, row := range town.Truth() {
		if row.Fault == detect.AwayFromHome {
			continue
		}
		if seen[row.Fault] || row.Start.Before(day0.AddDate(0, 0, 4)) || row.Start.After(day0.AddDate(0, 0, 10)) {
			t.Errorf("%+v", row)
		}
		seen[row.Fault] = true
	}
	if len(town.Homes()) != 6 || len(seen) != 5 {
		t.Errorf("%d homes, troubles %v", len(town.Homes()), seen)
	}
	signals := map[string]map[detect.Signal]bool{}
	for a, err := range town.Arrivals(context.Background()) {
		if err != nil {
			t.Fatal(err)
		}
		if a.Arrived.After(day0.AddDate(0, 0, 8)) {
			break
		}
		if signals[a.Home] == nil {
			signals[a.Home] = map[detect.Signal]bool{}
		}
		signals[a.Home][a.Signal] = true
	}
	for home, s := range signals {
		if len(s) != 16 {
			t.Errorf("%s gives %d signals", home, len(s))
		}
	}
}

func TestTruthIsClippedToTheRun(t *testing.T) {
	h := someHomes(t, 1, 10, "common", func(int) []fault.Fault {
		return []fault.Fault{
			{Cause: detect.ResinSpent, Start: day0.AddDate(0, 0, 5), End: day0.AddDate(1, 0, 0), Severity: 1, Ramp: 10 * 24 * time.Hour},
			{Cause: detect.SaltEmpty, Start: day0.AddDate(0, 0, 20), End: day0.AddDate(0, 0, 21), Severity: 1},
		}
	})[0]
	var b bytes.Buffer
	if err := WriteTruth(&b, h.Truth()); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "home-0001,resin_spent,2025-09-06T00:00:00Z,2025-09-11T00:00:00Z,0.500\n") || strings.Contains(b.String(), "salt_empty") {
		t.Error(b.String())
	}
}

func TestOptionsAreChecked(t *testing.T) {
	profile := detect.DefaultHome("a", time.UTC)
	for _, o := range []Options{{}, {Start: day0}, {Start: day0, Days: 1}} {
		if _, err := NewHome(profile, o); err == nil {
			t.Errorf("%+v passes", o)
		}
	}
}
