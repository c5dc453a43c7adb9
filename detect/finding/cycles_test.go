package finding

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
	"brinebell/detect/resin"
)

// life plays weeks of a home to a detector, with books kept for it.
type life struct {
	*tap
	cycle regeneration.Record // what the next regeneration is like
	base  flows               // what every minute shows
	swift float64             // share of their flow that backwash and fast rinse have
}

func newLife(d Detector, home detect.Home) *life {
	x := newTap(d, home)
	x.view.Books = books.New(&x.home)
	nan := math.NaN()
	l := &life{tap: x, swift: 1, base: flows{detect.ServiceFlow: 0, detect.DrainFlow: 0, detect.BrineLevel: 160}}
	l.cycle = regeneration.Record{Ending: regeneration.Completed, Confidence: 0.99, BrineLitres: sound, RefillLitres: 7.6,
		DrainLitres: 242, LevelStart: 160, LevelLowest: 46, LevelEnd: 160, RunningDrain: nan}
	return l
}

// minutes lets time pass at the base flows, some of them replaced.
func (l *life) minutes(n int, changed flows) *life {
	f := flows{}
	for s, v := range l.base {
		f[s] = v
	}
	for s, v := range changed {
		f[s] = v
	}
	for range n {
		l.view.Minute = &l.minute
		next := l.minute.Start.Add(time.Minute)
		m := l.minute
		m.Start = next
		for s := range m.Values {
			m.Values[s] = math.NaN()
		}
		for s, v := range f {
			m.Values[s] = v
		}
		l.view.Books.Step(&m)
		l.run(1, f)
	}
	return l
}

// days uses so many litres a day, each at six in the evening.
func (l *life) days(n int, litres float64) *life {
	for range n {
		for l.minute.Start.Hour() != 17 || l.minute.Start.Minute() != 59 {
			l.minutes(1, nil)
		}
		l.minutes(60, flows{detect.ServiceFlow: litres / 60})
	}
	return l
}

// quick sets what backwash and fast rinse pass, as a share.
func (l *life) quick(share float64) *life {
	l.swift = share
	return l
}

// until lets time pass to a minute of the day.
func (l *life) until(hour, minute int) *life {
	for l.minutes(1, nil); l.minute.Start.Hour() != hour || l.minute.Start.Minute() != minute; {
		l.minutes(1, nil)
	}
	return l
}

// regenerate has a regeneration recognised that began at the given hour and took
// 80 minutes.
func (l *life) regenerate(hour, minute int) *life {
	l.until(hour, minute)
	r := l.cycle
	r.Start = l.minute.Start
	r.End = r.Start.Add(80 * time.Minute)
	off := math.Abs(hourOff(&l.home, r.Start))
	r.Manual = off > 45 && l.home.Softener.Control != detect.MeteredImmediate
	r.Phases = []regeneration.Phase{
		{Name: detect.Backwash, Start: r.Start, Duration: 10 * time.Minute, DrainLitres: 80 * l.swift, BrineLitres: math.NaN()},
		{Name: detect.BrineDraw, Start: r.Start.Add(10 * time.Minute), Duration: 60 * time.Minute, DrainLitres: r.DrainLitres - 128, BrineLitres: r.BrineLitres},
		{Name: detect.FastRinse, Start: r.Start.Add(70 * time.Minute), Duration: 6 * time.Minute, DrainLitres: 48 * l.swift, BrineLitres: math.NaN()},
		{Name: detect.Refill, Start: r.Start.Add(76 * time.Minute), Duration: 4 * time.Minute, DrainLitres: math.NaN(), BrineLitres: -r.RefillLitres},
	}
	l.view.Regenerating, l.view.Ongoing = true, regeneration.Ongoing{Start: r.Start, Probability: 0.9}
	l.minutes(80, nil)
	l.view.Regenerating = false
	e := l.view.Books.Regeneration(&r)
	l.view.Record, l.view.Entry = &r, &e
	l.run(1, l.base)
	l.view.Record, l.view.Entry = nil, nil
	return l
}

// cycles are sound cycles of five days at 300 L: 1,500 L at 300 mg/L are 9.0 eq
// of the 20.4 eq that the default settings let the bed take up, so litres are
// chosen by share of it.
func (l *life) cycles(n, days int, share float64) *life {
	for range n {
		l.days(days, litresFor(&l.home, share)/float64(days)).regenerate(2, 0)
	}
	return l
}

func litresFor(h *detect.Home, share float64) float64 {
	return share * usable(h.Softener) / resin.Equivalents(1, h.Water.Hardness)
}

// plot is one life and what should be said of it.
type plot struct {
	name string
	home func(*detect.Home)
	play func(*life)
	want string
}

func (p plot) check(t *testing.T, fresh func() Detector) {
	t.Helper()
	home := detect.DefaultHome("h", time.UTC)
	if p.home != nil {
		p.home(&home)
	}
	l := newLife(fresh(), home)
	p.play(l)
	if got := l.raisings(); got != p.want {
		t.Errorf("%s: said %q, want %q: %+v", p.name, got, p.want, l.verdicts)
	}
}

// What all detectors of cycles, salt and hardness cost in a minute in which
// nothing happens.
func BenchmarkIdleCycles(b *testing.B) {
	var w Watches
	l := newLife(&w.Stuck, detect.DefaultHome("h", time.UTC))
	l.base[detect.SaltLevel], l.base[detect.ColdHardness], l.base[detect.SoftConductivity] = 500, 5, 600
	l.minutes(200, nil)
	for name, d := range map[string]Detector{"stuck": &w.Stuck, "missed": &w.Missed, "frequent": &w.Frequent, "mistimed": &w.Mistimed,
		"bridge": &w.Bridge, "brine_high": &w.BrineHigh, "salt_use": &w.SaltUse, "salt_low": &w.SaltLow, "rinse_short": &w.RinseShort,
		"hard_water": &w.HardWater, "capacity_short": &w.CapacityShort, "unusual": &w.Unusual} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d.Step(&l.view)
			}
		})
	}
}
