package intake

import (
	"bytes"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"
)

// said is what a rig whose clock is moved by hand logs.
func said(t *testing.T, play func(r *rig, at *time.Time)) string {
	t.Helper()
	var log bytes.Buffer
	at := noon
	r := newRig(t, func(o *Options) {
		o.Clock = func() time.Time { return at }
		o.Logger = slog.New(slog.NewTextHandler(&log, nil))
	})
	r.start()
	play(r, &at)
	r.finish()
	return log.String()
}

func TestFirstMistakeOfEachKindIsLogged(t *testing.T) {
	text := said(t, func(r *rig, at *time.Time) {
		for range 50 {
			<-r.offer("homes/a/sensors/hub", "not json")
			<-r.offer("homes/c/sensors/hub", pack("c", "inlet_flow", "l/s", noon, 1))
		}
	})
	if n := strings.Count(text, "set aside"); n != 2 {
		t.Errorf("%d lines for two mistakes made fifty times each:\n%s", n, text)
	}
	for _, want := range []string{"homes/a/sensors/hub", "bad_payload", "not json", "unknown_home", "no home has the id c"} {
		if !strings.Contains(text, want) {
			t.Errorf("the log does not say %q:\n%s", want, text)
		}
	}
}

func TestLastingMistakeIsLoggedAgain(t *testing.T) {
	text := said(t, func(r *rig, at *time.Time) {
		for range 130 {
			<-r.offer("homes/a/sensors/hub", "not json")
			*at = at.Add(time.Minute)
		}
	})
	if n := strings.Count(text, "set aside"); n != 3 || !strings.Contains(text, "times=121") {
		t.Errorf("logged %d times in 130 minutes, want once an hour with the count:\n%s", n, text)
	}
}

func TestFloodOfTopicsDoesNotFloodTheLog(t *testing.T) {
	text := said(t, func(r *rig, _ *time.Time) {
		for i := range 500 {
			<-r.offer(fmt.Sprintf("elsewhere/%d", i), "1")
		}
	})
	if n := strings.Count(text, "\n"); n != mostComplaints+1 {
		t.Errorf("%d lines, want %d and a last one", n, mostComplaints)
	}
}
