package series

import (
	"math"
	"testing"
)

// s is seconds in Unix ms from an arbitrary instant.
func s(seconds int64) int64 { return 1_700_000_000_000 + seconds*1000 }

func TestIncrementSurvivesResetAndWrap(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after float64
		minutes       float64
		want          float64
		ok            bool
	}{
		{"plain", 100, 103.5, 1, 3.5, true},
		{"still", 100, 100, 1, 0, true},
		{"reset to zero", 5230, 0, 1, 0, true},
		{"reset, then a little water", 5230, 2, 1, 2, true},
		{"wrap at a register's end", 9999.5, 1.5, 1, 2, true},
		{"wrap of a large register", 999_998, 4, 1, 6, true},
		{"no pipe carries that up", 100, 9000, 1, 0, false},
		{"nor after a drop", 9000, 4000, 1, 0, false},
		{"negative", 10, -5, 1, 0, false},
	} {
		got, ok := increment(c.before, c.after, c.minutes)
		if ok != c.ok || ok && math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v %v, want %v %v", c.name, got, ok, c.want, c.ok)
		}
	}
}

func TestTotalsAcrossSilence(t *testing.T) {
	const hours = 3 * 3600
	ten := func(m *Meter) int64 { // a meter of 1 L pulses that reports every 10 s
		for i := range int64(200) {
			m.VolumeTotal(s(i*10), float64(i/5))
		}
		return 1990
	}
	for _, c := range []struct {
		name   string
		litres float64
		known  bool
		dry    bool // all but the end
	}{
		{"nothing passed", 0, true, false},
		{"one pulse, which may have waited at the brink", 1, true, true},
		{"more: nobody knows when", 7, false, false},
	} {
		var m Meter
		at := ten(&m)
		p, ok := m.VolumeTotal(s(at+hours), m.Total+c.litres)
		if !ok || p.Known != c.known || p.Known && p.Litres != c.litres || (p.DryUntil > p.From) != c.dry {
			t.Errorf("%s: %+v", c.name, p)
		}
	}
	var m Meter
	at := ten(&m)
	if p, _ := m.VolumeTotal(s(at+hours), 3); p.Known {
		t.Errorf("a reset while nobody looked leaves the span unknown: %+v", p)
	}
}

// A sensor that speaks only when it moves was still while it was silent.
func TestReportsOnlyOnChange(t *testing.T) {
	var m Meter
	at := int64(0)
	for i := range 100 {
		at += 10
		if i%10 == 0 {
			at += 3600
		}
		m.VolumeTotal(s(at), float64(i))
	}
	p, _ := m.VolumeTotal(s(at+7200), 102)
	if !p.Known || p.DryUntil <= p.From {
		t.Errorf("%+v", p)
	}
}

func TestRateHolds(t *testing.T) {
	var m Meter
	for i := range int64(50) {
		m.Rate(s(i*10), 0)
	}
	p, _ := m.Rate(s(490+10), 6)
	if !p.Known || p.From != s(490) || math.Abs(p.Litres-1) > 1e-9 {
		t.Errorf("ten seconds at 6 L/min are a litre: %+v", p)
	}
	p, _ = m.Rate(s(500+600), 6)
	if p.From < s(1000) {
		t.Errorf("a rate does not hold over ten silent minutes in which it was running: %+v", p)
	}
	m.Rate(s(1110), 0)
	p, _ = m.Rate(s(1110+600), 3)
	if p.From != s(1110) || p.DryUntil < s(1600) {
		t.Errorf("dry before, so dry until it spoke again: %+v", p)
	}
	p, _ = m.Rate(s(1720), 4000)
	if p.Known {
		t.Errorf("no pipe carries 4000 L/min: %+v", p)
	}
}

// Totals are exact, so a sensor's rates are not counted beside them.
func TestTotalsOverRates(t *testing.T) {
	var m Meter
	m.VolumeTotal(s(0), 10)
	if p, ok := m.Rate(s(5), 6); ok {
		t.Errorf("%+v", p)
	}
	if p, ok := m.VolumeTotal(s(10), 11); !ok || p.Litres != 1 {
		t.Errorf("%+v", p)
	}
}

func TestPulseIsLearnt(t *testing.T) {
	var m Meter
	if got := m.Pulse(0.1); got != 0.1 {
		t.Error("before it has moved, the profile's:", got)
	}
	for i := range int64(100) {
		m.VolumeTotal(s(i*60), float64(i)*0.5)
	}
	if got := m.Pulse(0.1); got != 0.5 {
		t.Error(got)
	}
}
