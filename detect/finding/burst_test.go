package finding

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
)

func TestBurst(t *testing.T) {
	const in = detect.InletFlow
	plain := detect.DefaultHome("h", time.UTC)
	garden := plain
	garden.Bypassed = []string{"irrigation"}
	fresh := func() Detector { return &BurstWatch{} }
	noon := func(x *tap) *tap { return x.run(12*60, flows{in: 0}) }
	run := func(x *tap, minutes int, flow float64) *tap { return x.run(minutes, flows{in: flow}) }
	lived := func(x *tap) *tap { // three weeks with showers
		for range 21 {
			run(run(x, 8, 12), day-8, 0)
		}
		return x
	}
	judge(t, plain, fresh, []scene{
		{"a bath", func(x *tap) { run(run(noon(x), 15, 18), 60, 0) }, ""},
		{"a pool by hose", func(x *tap) { run(run(run(x, 10*60, 0), 16*60, 13), 300, 0) }, ""},
		{"a hose all night", func(x *tap) { run(run(x, 22*60, 0), 5*60, 12) }, "+burst "},
		{"zones that change", func(x *tap) {
			for i := range 6 {
				run(x, 25, 40+7*float64(i%3))
			}
			run(x, 60, 0)
		}, ""},
		{"a pipe bursts", func(x *tap) { run(noon(x), 80, 35) }, "+burst "},
		{"showers on top of it", func(x *tap) {
			noon(x)
			for range 6 {
				run(run(x, 14, 35), 2, 43)
			}
		}, "+burst "},
		{"far beyond this home", func(x *tap) { run(noon(lived(x)), 9, 150) }, "+burst "},
		{"a hose longer than ever by day", func(x *tap) { run(noon(lived(x)), 105, 14) }, "+burst "},
		{"watered by hand", func(x *tap) { run(run(noon(lived(x)), 45, 14), day, 0) }, ""},
		{"two hours that this home knows at that hour", func(x *tap) {
			lived(x)
			for range 3 { // the first is asked about, the second teaches
				run(run(noon(x), 120, 14), day-14*60, 0)
			}
		}, "+burst -burst +burst -burst "},
		{"at another hour they are news", func(x *tap) {
			lived(x)
			for range 3 {
				run(run(noon(x), 120, 14), day-14*60, 0)
			}
			run(run(x, 7*60, 0), 100, 14)
		}, "+burst -burst +burst -burst +burst "},
		{"three times the peak at noon", func(x *tap) { run(noon(lived(x)), 11, 40) }, "+burst "},
		{"three times the peak before dawn may be sprinklers", func(x *tap) { run(run(run(lived(x), 4*60, 0), 70, 40), day, 0) }, ""},
		{"a tap left open", func(x *tap) { run(noon(x), 9*60, 5) }, "+burst "},
		{"a drip line", func(x *tap) { run(run(noon(x), 90, 4), day, 0) }, ""},
		{"shut again", func(x *tap) { run(run(noon(x), 90, 35), 20, 0) }, "+burst -burst "},
		{"the second time ends by itself and is learnt", func(x *tap) {
			for range 4 {
				run(run(x, 20*60, 0), 100, 35)
			}
			run(x, 20, 0)
		}, "+burst -burst +burst -burst "},
	})
	judge(t, garden, fresh, []scene{
		{"140 minutes of sprinklers on the first day", func(x *tap) { run(run(x, 140, 81), day, 0) }, ""},
		{"four hours and more", func(x *tap) { run(x, 260, 81) }, "+burst "},
	})
}

// A question becomes a claim when no pool takes so long.
func TestBurstIsAskedFirst(t *testing.T) {
	x := newTap(&BurstWatch{}, detect.DefaultHome("h", time.UTC))
	for range 21 {
		x.run(8, flows{detect.InletFlow: 12}).run(day-8, flows{detect.InletFlow: 0})
	}
	x.run(10*60, flows{detect.InletFlow: 0}).run(19*60, flows{detect.InletFlow: 14})
	if len(x.verdicts) != 2 || x.verdicts[0].Severity != detect.ThisWeek || x.verdicts[1].Severity != detect.ActNow {
		t.Fatalf("%+v", x.verdicts)
	}
	if !x.verdicts[0].Onset.Equal(x.verdicts[1].Onset) {
		t.Error("the onset moved")
	}
	if lasted := x.verdicts[0].Evidence["lasted_min"].(float64); lasted > hoseMinutes+10 {
		t.Errorf("asked after %g minutes", lasted)
	}
}

// A pool is filled while the household goes on drawing water: it stays a question.
func TestPoolStaysAQuestion(t *testing.T) {
	x := newTap(&BurstWatch{}, detect.DefaultHome("h", time.UTC))
	for range 21 {
		x.run(8, flows{detect.InletFlow: 12}).run(day-8, flows{detect.InletFlow: 0})
	}
	x.run(10*60, flows{detect.InletFlow: 0})
	for range 13 * 2 {
		x.run(20, flows{detect.InletFlow: 13.3}).run(10, flows{detect.InletFlow: 21})
	}
	x.run(30, flows{detect.InletFlow: 0})
	if got := x.said(); got != "+burst -burst " || x.verdicts[0].Severity != detect.ThisWeek {
		t.Errorf("%s: %+v", got, x.verdicts)
	}
}

// What bursts is told within ten minutes of being beyond the home's own.
func TestBurstIsPrompt(t *testing.T) {
	x := newTap(&BurstWatch{}, detect.DefaultHome("h", time.UTC))
	for range 21 {
		x.run(8, flows{detect.InletFlow: 12}).run(day-8, flows{detect.InletFlow: 0})
	}
	from := x.minute.Start.Add(time.Minute)
	x.run(10, flows{detect.InletFlow: 140})
	if len(x.verdicts) != 1 || !x.verdicts[0].Onset.Equal(from) || x.verdicts[0].Severity != detect.ActNow {
		t.Errorf("%+v", x.verdicts)
	}
	if size := x.verdicts[0].Evidence["size_l_per_min"].(float64); math.Abs(size-140) > 1 {
		t.Error(size)
	}
}
