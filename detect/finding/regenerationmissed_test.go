package finding

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

func immediate(h *detect.Home) { h.Softener.Control = detect.MeteredImmediate }
func timed(h *detect.Home)     { h.Softener.Control, h.Softener.DaysOverride = detect.Timed, 5 }

// jammed lets days pass in which only the house's meter shows the water.
func (l *life) jammed(days int) *life {
	l.base[detect.InletFlow] = 0
	for range days {
		l.until(18, 0).minutes(60, flows{detect.InletFlow: litresFor(&l.home, 1.05) / 6 / 60})
	}
	return l
}

// nights are cycles that had used up so much of the capacity a night before the
// regeneration came.
func (l *life) nights(n int, before float64) *life {
	for range n {
		l.days(5, litresFor(&l.home, before)/5).until(2, 30)
		l.days(1, litresFor(&l.home, 0.2)).regenerate(2, 0)
	}
	return l
}

func TestRegenerationMissed(t *testing.T) {
	for _, p := range []plot{
		{"in time", nil, func(l *life) { l.cycles(6, 6, 1.05) }, ""},
		{"used up and never came", nil, func(l *life) { l.cycles(4, 6, 1.05).days(12, litresFor(&l.home, 1.05)/6) }, "+regeneration_missed "},
		{"from the first day, nothing ever came", nil, func(l *life) { l.days(12, litresFor(&l.home, 1)/6) }, "+regeneration_missed "},
		{"a guest uses a quarter more on its last day", nil, func(l *life) { l.cycles(4, 6, 1.05).cycles(1, 6, 1.25).cycles(2, 6, 1) }, ""},
		{"valve set a fifth too high: the home's own", nil, func(l *life) { l.cycles(6, 6, 1.3) }, ""},
		{"an empty house before its override", nil, func(l *life) { l.cycles(3, 6, 1.05).days(13, 0) }, ""},
		{"override passed", nil, func(l *life) { l.cycles(3, 6, 1.05).days(17, 5) }, "+regeneration_missed "},
		{"override passed, known to be away", func(h *detect.Home) {
			h.Away = []detect.Span{{From: time.Date(2026, 5, 18, 0, 0, 0, 0, time.UTC), To: time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)}}
		}, func(l *life) { l.cycles(3, 6, 1.05).days(25, 0) }, ""},
		{"no override", func(h *detect.Home) { h.Softener.DaysOverride = 0 }, func(l *life) { l.cycles(3, 6, 1.05).days(30, 2) }, ""},
		{"timed, one left out", timed, func(l *life) { l.cycles(3, 5, 0.4).days(7, 100) }, "+regeneration_missed "},
		{"timed, one by hand between", timed, func(l *life) { l.cycles(3, 5, 0.4).days(3, 100).regenerate(14, 0).cycles(2, 5, 0.4) }, ""},
		{"immediate, meter of the valve dead", immediate, func(l *life) { l.cycles(4, 6, 1).days(12, litresFor(&l.home, 1)/6) }, "+regeneration_missed "},
		{"the softener's meter jammed, the house's shows the water", nil, func(l *life) { l.cycles(4, 6, 1.05).jammed(12) }, "+regeneration_missed "},
		{"and by a garden fed before the softener it shows nothing", func(h *detect.Home) { h.Bypassed = []string{"irrigation"} },
			func(l *life) { l.cycles(4, 6, 1.05).jammed(12) }, ""},
		{"each a night later than it used to be", nil, func(l *life) { l.nights(6, 0.9).nights(6, 1.15) }, "+regeneration_missed "},
		{"and set back", nil, func(l *life) { l.nights(6, 0.9).nights(6, 1.15).nights(3, 0.9) }, "+regeneration_missed -regeneration_missed "},
		{"a home whose meter counts a tenth more than the valve's", nil, func(l *life) { l.nights(12, 1.1) }, ""},
		{"heavy last days", nil, func(l *life) {
			for i := range 12 {
				l.nights(1, []float64{0.7, 0.95, 0.85, 0.98}[i%4])
			}
		}, ""},
		{"mended", nil, func(l *life) {
			l.cycles(4, 6, 1.05).days(12, litresFor(&l.home, 1.05)/6).regenerate(14, 0).cycles(2, 6, 1.05)
		}, "+regeneration_missed -regeneration_missed "},
		{"late each time is one finding", nil, func(l *life) { l.cycles(4, 6, 1.05).cycles(3, 10, 1.9) }, "+regeneration_missed "},
	} {
		p.check(t, func() Detector { return &RegenerationMissedWatch{} })
	}
}

// What nobody could have seen, or nobody recognised, may have been one.
func TestRegenerationMissedLeavesDoubt(t *testing.T) {
	blind := plot{"sensors dark for a night", nil, func(l *life) {
		l.cycles(4, 6, 1.05).days(5, litresFor(&l.home, 1.05)/6)
		dark := flows{detect.BrineLevel: math.NaN(), detect.DrainFlow: math.NaN()}
		l.minutes(600, dark).days(5, litresFor(&l.home, 1.05)/6).regenerate(2, 0)
	}, ""}
	strange := plot{"much water down the drain", nil, func(l *life) {
		l.cycles(4, 6, 1.05).days(5, litresFor(&l.home, 1.05)/6).until(2, 0).minutes(30, flows{detect.DrainFlow: 4})
		l.days(5, litresFor(&l.home, 1.05)/6).regenerate(2, 0)
	}, ""}
	for _, p := range []plot{blind, strange} {
		p.check(t, func() Detector { return &RegenerationMissedWatch{} })
	}
}

func TestRegenerationFrequent(t *testing.T) {
	for _, p := range []plot{
		{"in proportion", nil, func(l *life) { l.cycles(8, 6, 1.1) }, ""},
		{"twice as often", nil, func(l *life) { l.cycles(4, 6, 1.1).cycles(4, 3, 0.5) }, "+regeneration_frequent "},
		{"from the first day", nil, func(l *life) { l.cycles(5, 3, 0.5) }, "+regeneration_frequent "},
		{"one by hand", nil, func(l *life) { l.cycles(4, 6, 1.1).days(2, 300).regenerate(15, 0).cycles(3, 6, 1.1) }, ""},
		{"little water, by its override", nil, func(l *life) { l.cycles(5, 14, 0.3) }, ""},
		{"a heavy household", nil, func(l *life) { l.cycles(8, 2, 1.2) }, ""},
		{"immediate keeps no reserve", immediate, func(l *life) { l.cycles(8, 5, 1) }, ""},
		{"immediate, by reserve of another", immediate, func(l *life) { l.cycles(10, 3, 0.6) }, "+regeneration_frequent "},
		{"timed, on its interval", timed, func(l *life) { l.cycles(6, 5, 0.4) }, ""},
		{"timed, every second day", timed, func(l *life) { l.cycles(2, 5, 0.4).cycles(4, 2, 0.2) }, "+regeneration_frequent "},
		{"mended", nil, func(l *life) { l.cycles(3, 6, 1.1).cycles(4, 3, 0.5).cycles(4, 6, 1.1) }, "+regeneration_frequent -regeneration_frequent "},
	} {
		p.check(t, func() Detector { return &RegenerationFrequentWatch{} })
	}
}

func TestRegenerationMistimed(t *testing.T) {
	night := func(hours ...int) func(*life) {
		return func(l *life) {
			for _, h := range hours {
				l.days(3, 300).regenerate(h, 10)
			}
		}
	}
	for _, p := range []plot{
		{"at two", nil, night(2, 2, 2, 2), ""},
		{"one by hand", nil, night(2, 16, 2, 2), ""},
		{"two by hand at other hours", nil, night(2, 10, 17, 2), ""},
		{"shifted by eight hours", nil, night(2, 2, 10, 10), "+regeneration_mistimed "},
		{"drifting", nil, night(2, 4, 6, 9), "+regeneration_mistimed "},
		{"an hour, after summer time", nil, night(2, 3, 3), "+regeneration_mistimed "},
		{"set right", nil, night(2, 10, 10, 2), "+regeneration_mistimed -regeneration_mistimed "},
		{"immediate has no hour", immediate, night(5, 17, 17, 17), ""},
	} {
		p.check(t, func() Detector { return &RegenerationMistimedWatch{} })
	}
}

func TestRegenerationStuck(t *testing.T) {
	start := func(l *life) {
		l.minutes(120, nil)
		l.view.Regenerating, l.view.Ongoing = true, regeneration.Ongoing{Start: l.minute.Start, Probability: 0.9}
	}
	for _, p := range []plot{
		{"a cycle", nil, func(l *life) { start(l); l.minutes(76, flows{detect.DrainFlow: 3}).minutes(200, nil) }, ""},
		{"half as long again", nil, func(l *life) { start(l); l.minutes(115, flows{detect.DrainFlow: 3}).minutes(200, nil) }, ""},
		{"stands in backwash", nil, func(l *life) { start(l); l.minutes(200, flows{detect.DrainFlow: 8}) }, "+regeneration_stuck "},
		{"and was put right", nil, func(l *life) { start(l); l.minutes(200, flows{detect.DrainFlow: 8}).minutes(70, nil) }, "+regeneration_stuck -regeneration_stuck "},
		{"a drain that runs in service", nil, func(l *life) { l.minutes(60, nil).minutes(400, flows{detect.DrainFlow: 1}) }, ""},
		{"which then regenerates", nil, func(l *life) {
			l.minutes(60, nil).minutes(3000, flows{detect.DrainFlow: 1})
			l.view.Regenerating, l.view.Ongoing = true, regeneration.Ongoing{Start: l.minute.Start, Probability: 0.9}
			l.minutes(80, flows{detect.DrainFlow: 4})
		}, ""},
	} {
		p.check(t, func() Detector { return &RegenerationStuckWatch{} })
	}
	l := newLife(&RegenerationStuckWatch{}, detect.DefaultHome("h", time.UTC))
	start(l)
	l.minutes(200, flows{detect.DrainFlow: 8})
	if v := l.verdicts[0]; v.Severity != detect.ActNow || v.Onset.Before(l.view.Ongoing.Start) {
		t.Errorf("%+v", v)
	}
}

// Water drawn while the meter was out of reach is missing from the sum.
func TestRegenerationFrequentKnowsItsGaps(t *testing.T) {
	plot{"a day and a half without the meter each time", nil, func(l *life) {
		l.cycles(3, 6, 1.1)
		for range 4 {
			l.minutes(2000, flows{detect.ServiceFlow: math.NaN()}).cycles(1, 3, 0.5)
		}
	}, ""}.check(t, func() Detector { return &RegenerationFrequentWatch{} })
}
