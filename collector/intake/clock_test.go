package intake

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
)

// TestNothingIsTakenByAClockThatIsBehind lets the clock fall back by ever more.
func TestNothingIsTakenByAClockThatIsBehind(t *testing.T) {
	var back atomic.Int64
	stored := noon.AddDate(0, 0, 5)
	r := newRig(t, func(o *Options) {
		o.Clock = func() time.Time { return noon.Add(-time.Duration(back.Load())) }
		o.Newest = stored
	})
	r.start()
	if err := <-r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 50)); err == nil || !strings.Contains(err.Error(), "clock") {
		t.Errorf("%v, want the clock refused: readings of five days later are stored", err)
	}
	r.finish()

	r = newRig(t, func(o *Options) { o.Clock = func() time.Time { return noon.Add(-time.Duration(back.Load())) } })
	r.start()
	for _, step := range []struct {
		back  time.Duration
		taken bool
	}{{0, true}, {MaxAhead, true}, {MaxAhead + time.Second, false}, {10 * 365 * 24 * time.Hour, false}, {time.Hour, true}} {
		back.Store(int64(step.back))
		if err := <-r.offer("homes/a/sensors/d", pack("a", "battery", "%EL", noon, 50)); (err == nil) != step.taken {
			t.Errorf("%v behind: %v, want it taken: %v", step.back, err, step.taken)
		}
	}
	if n := testutil.ToFloat64(r.intake.metrics.clock); n != 2 {
		t.Errorf("counted %v batches", n)
	}
	r.finish()
}
