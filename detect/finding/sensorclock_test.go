package finding

import (
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
)

// irregularUse plays days on which water is used at irregular hours; what the
// second meter shows comes lag minutes later.
func irregularUse(x *tap, days, lag int, first, second detect.Signal) {
	r := rand.New(rand.NewPCG(4, 4))
	n := days * day
	use := make([]float64, n+lag)
	for at := 0; at < n; at += 30 + int(r.ExpFloat64()*150) {
		for i := at; i < min(at+5, n); i++ {
			use[i] = 7
		}
	}
	for i := lag; i < n; i++ {
		x.run(1, flows{first: use[i], second: use[i-lag]})
	}
}

// drawCycles plays regenerations whose brine is seen to fall lag minutes after the
// drain runs.
func drawCycles(x *tap, n, lag int) {
	for range n {
		for i := range 6 * day {
			drain, level := 0.0, 300.0
			if i > day && i < day+75 {
				drain = 3
			}
			if since := i - day - lag; since > 0 {
				level = max(180, 300-3*float64(since))
			}
			if i-day-lag > 300 {
				level = 300
			}
			x.run(1, flows{detect.DrainFlow: drain, detect.BrineLevel: level})
		}
	}
}

func TestSensorClock(t *testing.T) {
	const in, soft = detect.InletFlow, detect.ServiceFlow
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &SensorClockWatch{} }, []scene{
		{"two meters agree", func(x *tap) { irregularUse(x, 30, 0, in, soft) }, ""},
		{"one is two hours behind", func(x *tap) { irregularUse(x, 30, 120, in, soft) }, "+sensor_clock "},
		{"brine after backwash", func(x *tap) { drawCycles(x, 8, 12) }, ""},
		{"brine seven hours late", func(x *tap) { drawCycles(x, 3, 12); drawCycles(x, 3, 432) }, "+sensor_clock "},
		{"and set right", func(x *tap) { drawCycles(x, 3, 432); drawCycles(x, 2, 12) }, "+sensor_clock -sensor_clock "},
	})
	x := newTap(&SensorClockWatch{}, detect.DefaultHome("h", time.UTC))
	irregularUse(x, 30, 120, in, soft)
	if off := x.verdicts[0].Evidence["offset_min"].(int); off < 105 || off > 135 {
		t.Error("offset", off)
	}
}
