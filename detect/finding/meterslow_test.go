package finding

import (
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/sequential"
)

// twoMeters plays days of uses that the second meter sees a share of; its own
// scatter is that of a class 2 meter.
func twoMeters(x *tap, days int, share float64, extra flows) {
	r := rand.New(rand.NewPCG(8, uint64(days)))
	for range days * 20 {
		n := 1 + r.IntN(6)
		for range n {
			rate := 3 + 9*r.Float64()
			f := flows{detect.InletFlow: rate, detect.ServiceFlow: rate * share * (1 + 0.01*r.NormFloat64()), detect.DrainFlow: 0}
			for s, v := range extra {
				f[s] = v
			}
			x.run(1, f)
		}
		x.run(60-n, flows{detect.InletFlow: 0, detect.ServiceFlow: 0, detect.DrainFlow: 0})
	}
}

// backwash plays a regeneration's drain water past a service meter that shows a share of it.
func backwash(x *tap, share float64) {
	x.view.Regenerating = true
	x.run(15, flows{detect.InletFlow: 8, detect.ServiceFlow: 8 * share, detect.DrainFlow: 8})
	x.view.Regenerating = false
	x.run(30, flows{detect.InletFlow: 0, detect.ServiceFlow: 0, detect.DrainFlow: 0})
}

func TestMeterSlowAndBypassOpen(t *testing.T) {
	home := detect.DefaultHome("h", time.UTC)
	home.Meters.Service = &detect.Meter{Pulse: 0.1}
	hard, soft := flows{detect.ColdHardness: 150}, flows{detect.ColdHardness: 3}
	ledger := func(x *tap) { x.view.Books = books.New(&x.home) }
	scenes := []scene{
		{"both agree", func(x *tap) { twoMeters(x, 60, 1, nil) }, ""},
		{"3 % apart, within their class", func(x *tap) { twoMeters(x, 60, 0.97, nil) }, ""},
		{"half jammed, told by the backwash", func(x *tap) {
			twoMeters(x, 9, 1, nil)
			twoMeters(x, 1, 0.5, nil)
			backwash(x, 0.5)
			twoMeters(x, 2, 0.5, nil)
		}, "+meter_slow "},
		{"half open, told by the backwash", func(x *tap) {
			twoMeters(x, 9, 1, nil)
			twoMeters(x, 1, 0.5, nil)
			backwash(x, 1)
			twoMeters(x, 2, 0.5, nil)
		}, "+bypass_open "},
		{"half open, told by the tap", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 2, 0.5, hard) }, "+bypass_open "},
		{"half jammed, soft at the tap", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 2, 0.5, soft) }, "+meter_slow "},
		{"all round, hard at the tap", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 2, 0, hard) }, "+bypass_open "},
		{"dead, which is not for this one", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 9, 0, soft); twoMeters(x, 9, 1, soft) }, ""},
		{"slow from the first day", func(x *tap) { twoMeters(x, 10, 0.8, nil) }, "+meter_slow "},
		{"the house meter", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 5, 1.3, nil) }, "+meter_slow "},
		{"half jammed, nothing tells for a week", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 6, 0.5, nil) }, ""},
		{"then it is said that nothing does", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 10, 0.5, nil) }, "+meter_slow "},
		{"shut again", func(x *tap) { twoMeters(x, 9, 1, nil); twoMeters(x, 2, 0.5, hard); twoMeters(x, 4, 1, soft) }, "+bypass_open -bypass_open "},
		{"a backwash between uses", func(x *tap) {
			for range 20 {
				twoMeters(x, 2, 1, nil)
				backwash(x, 0)
			}
		}, ""},
	}
	for i := range scenes {
		play := scenes[i].play
		scenes[i].play = func(x *tap) { ledger(x); play(x) }
	}
	judge(t, home, func() Detector { return &MeterSlowWatch{} }, scenes)
	garden := home
	garden.Bypassed = []string{"irrigation"}
	waters := func(minutes int, flow, share float64) func(x *tap) {
		return func(x *tap) {
			ledger(x)
			for range 20 {
				twoMeters(x, 1, share, soft)
				x.run(minutes, flows{detect.InletFlow: flow, detect.ServiceFlow: 0, detect.DrainFlow: 0})
				x.run(10, flows{detect.InletFlow: 0, detect.ServiceFlow: 0, detect.DrainFlow: 0})
			}
		}
	}
	judge(t, garden, func() Detector { return &MeterSlowWatch{} }, []scene{
		{"a garden before the softener", waters(40, 12, 1), ""},
		{"a drip line before the softener", waters(35, 1.5, 1), ""},
		{"a slow meter beside a drip line", waters(35, 1.5, 0.7), "+meter_slow "},
		{"a loose cable in a home with a garden", func(x *tap) {
			ledger(x)
			twoMeters(x, 9, 1, soft)
			for i := range 200 { // half of the uses pass unseen
				x.run(4, flows{detect.InletFlow: 7, detect.ServiceFlow: 7 * float64(i%2), detect.ColdHardness: 3, detect.DrainFlow: 0})
				x.run(56, flows{detect.InletFlow: 0, detect.ServiceFlow: 0, detect.DrainFlow: 0})
			}
		}, "+meter_slow "},
	})
	trickle := func(share float64) func(x *tap) {
		return func(x *tap) { // 0.06 L/min that the softener's meter does not turn for
			ledger(x)
			r := rand.New(rand.NewPCG(3, 4))
			for range 20 * 24 {
				n := 1 + r.IntN(5)
				x.run(n, flows{detect.InletFlow: 7.06, detect.ServiceFlow: 7 * share, detect.ColdHardness: 3})
				x.run(60-n, flows{detect.InletFlow: 0.06, detect.ServiceFlow: 0})
			}
		}
	}
	judge(t, home, func() Detector { return &MeterSlowWatch{} }, []scene{
		{"a drip that one meter does not turn for", trickle(1), ""},
		{"and a slow meter", trickle(0.7), "+meter_slow "},
	})
}

// The false-alarm rate that the detectors state, by Siegmund's approximation.
func TestStatedRunLengths(t *testing.T) {
	if l := sequential.Siegmund(slowSlack, slowLimit, 0); l < 4e8 {
		t.Errorf("meter_slow: a false alarm in %.3g batches", l)
	}
	if l := sequential.Siegmund(lossSlack, lossLimit, 0); l < 1e9 {
		t.Errorf("pressure_loss: a false alarm in %.3g days", l)
	}
}
