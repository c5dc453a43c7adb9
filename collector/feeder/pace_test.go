package feeder

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

// An hour of event time at a speed of 3600 takes a second.
func TestPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := Pace{Speed: 3600}
		event, wall := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), time.Now()
		for m := range 61 {
			if err := p.Wait(context.Background(), event.Add(time.Duration(m)*time.Minute)); err != nil {
				t.Fatal(err)
			}
		}
		if took := time.Since(wall); took < time.Second-slack || took > time.Second {
			t.Errorf("an hour took %s", took)
		}
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		if p.Wait(ctx, event.Add(48*time.Hour)) == nil {
			t.Error("waited on although the context had ended")
		}
	})
}
