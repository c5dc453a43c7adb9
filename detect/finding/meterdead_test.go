package finding

import (
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// tap plays minutes of flows to a detector.
type tap struct {
	detector Detector
	view     View
	minute   series.Minute
	sensors  series.Assembler
	log      series.Log
	home     detect.Home
	verdicts []Verdict
}

func newTap(d Detector, home detect.Home) *tap {
	t := &tap{detector: d, home: home, minute: series.NewMinute(time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC))}
	t.view = View{Home: &t.home, Minute: &t.minute, Sensors: &t.sensors, Log: &t.log, Leading: detect.InletFlow}
	return t
}

// flows sets what the next minutes show; a signal left out is unknown.
type flows map[detect.Signal]float64

func (t *tap) run(minutes int, f flows) *tap {
	for range minutes {
		start := t.minute.Start.Add(time.Minute)
		t.minute = series.NewMinute(start)
		for s, v := range f {
			t.minute.Values[s] = v
			t.sensors.Seen |= 1 << s
		}
		t.view.Local, t.view.Now = start, start.Add(time.Minute)
		if leading, ok := t.minute.Get(t.view.Leading); ok {
			t.log.Put(start, leading)
		}
		if v := t.detector.Step(&t.view); v != nil {
			t.verdicts = append(t.verdicts, *v)
		}
	}
	return t
}

// uses are n uses of water that some meters see, others do not.
func (t *tap) uses(n int, litres float64, seen, blind detect.Signal) *tap {
	for range n {
		t.run(2, flows{seen: litres / 2, blind: 0})
		t.run(30, flows{seen: 0, blind: 0})
	}
	return t
}

// said is the sequence of verdicts, + for standing.
func (t *tap) said() string {
	s := ""
	for _, v := range t.verdicts {
		if v.Standing {
			s += "+" + string(v.Kind) + " "
		} else {
			s += "-" + string(v.Kind) + " "
		}
	}
	return s
}

func TestMeterDead(t *testing.T) {
	const in, soft, drain = detect.InletFlow, detect.ServiceFlow, detect.DrainFlow
	plain := detect.DefaultHome("h", time.UTC)
	upstream := plain
	upstream.Meters.Service = &detect.Meter{}
	garden := plain
	garden.Bypassed = []string{"irrigation"}
	away := plain
	away.Away = []detect.Span{{From: time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), To: time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)}}
	day := 24 * 60
	for _, c := range []struct {
		name string
		home detect.Home
		play func(*tap)
		want string
	}{
		{"dead, while seals leak to the drain all day", upstream, func(x *tap) {
			x.run(60, flows{in: 0.2, soft: 0.2, drain: 0.2})
			for range 10 {
				x.run(3, flows{in: 6.2, soft: 0, drain: 0.2}).run(30, flows{in: 0.2, soft: 0, drain: 0.2})
			}
		}, "+meter_dead "},
		{"a leak to the drain that the softener's meter does not turn for, in pulses", upstream, func(x *tap) {
			for range 400 {
				x.run(1, flows{in: 0.5, soft: 0, drain: 1}).run(1, flows{in: 0.6, soft: 0, drain: 0})
			}
		}, ""},
		{"dead, while a cistern leaks", plain, func(x *tap) {
			x.run(120, flows{in: 0.3, soft: 0.3})
			for range 10 {
				x.run(3, flows{in: 6.3, soft: 0}).run(60, flows{in: 0.3, soft: 0})
			}
		}, "+meter_dead "},
		{"a leak before the softener, nobody at home", plain, func(x *tap) {
			x.run(60, flows{in: 0, soft: 0}).run(2*day, flows{in: 0.3, soft: 0})
		}, ""},
		{"both move", plain, func(x *tap) {
			for range 20 {
				x.run(3, flows{in: 6, soft: 6}).run(30, flows{in: 0, soft: 0})
			}
		}, ""},
		{"softener's meter stands", plain, func(x *tap) { x.run(1, flows{in: 1, soft: 1}).uses(8, 10, in, soft) }, "+meter_dead "},
		{"house meter stands", plain, func(x *tap) { x.run(1, flows{in: 1, soft: 1}).uses(8, 10, soft, in) }, "+meter_dead "},
		{"few uses are not enough", plain, func(x *tap) { x.run(1, flows{in: 1, soft: 1}).uses(4, 30, in, soft) }, ""},
		{"garden before the softener", garden, func(x *tap) { x.run(1, flows{in: 1, soft: 1}).uses(20, 400, in, soft) }, ""},
		{"empty house, both still", plain, func(x *tap) { x.run(1, flows{in: 1, soft: 1}).run(30*day, flows{in: 0, soft: 0}) }, ""},
		{"backwash past a still meter", upstream, func(x *tap) { x.run(1, flows{soft: 1, drain: 0}).run(10, flows{soft: 0, drain: 8}) }, "+meter_dead "},
		{"91 hours of one meter", plain, func(x *tap) { x.run(60, flows{in: 1}).run(91*60, flows{in: 0}).run(60, flows{in: 1}) }, ""},
		{"one meter for a month", plain, func(x *tap) { x.run(60, flows{in: 1}).run(30*day, flows{in: 0}) }, "+meter_dead "},
		{"told that they are away", away, func(x *tap) { x.run(60, flows{in: 1}).run(30*day, flows{in: 0}) }, ""},
		{"it turns again", plain, func(x *tap) {
			x.run(1, flows{in: 1, soft: 1}).uses(8, 10, in, soft).run(70, flows{in: 1, soft: 1})
		}, "+meter_dead -meter_dead "},
		{"a loose cable lets a pulse through", plain, func(x *tap) {
			x.run(1, flows{in: 1, soft: 1}).uses(8, 10, in, soft)
			for range 10 {
				x.run(1, flows{in: 3, soft: 3}).uses(3, 10, in, soft)
			}
		}, "+meter_dead "},
	} {
		x := newTap(&MeterDeadWatch{}, c.home)
		c.play(x)
		if got := x.said(); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
}

// A month of stillness at the only meter is a question, not a claim.
func TestOneMeterAsks(t *testing.T) {
	x := newTap(&MeterDeadWatch{}, detect.DefaultHome("h", time.UTC))
	x.run(60, flows{detect.InletFlow: 1}).run(30*24*60, flows{detect.InletFlow: 0})
	if len(x.verdicts) != 1 || x.verdicts[0].Severity != detect.Plan || x.verdicts[0].Evidence["witness"] != "nothing" {
		t.Errorf("%+v", x.verdicts)
	}
}

func TestDrainRunning(t *testing.T) {
	const drain = detect.DrainFlow
	home := detect.DefaultHome("h", time.UTC)
	for _, c := range []struct {
		name     string
		play     func(*tap)
		want     string
		severity detect.Severity
	}{
		{"dry", func(x *tap) { x.run(3000, flows{drain: 0}) }, "", ""},
		{"a litre a minute", func(x *tap) { x.run(60, flows{drain: 0}).run(10, flows{drain: 1}) }, "+drain_running ", detect.ActNow},
		{"a trickle", func(x *tap) { x.run(60, flows{drain: 0}).run(24*60, flows{drain: 0.1}) }, "+drain_running ", detect.ThisWeek},
		{"a splash", func(x *tap) { x.run(60, flows{drain: 0}).run(4, flows{drain: 2}).run(300, flows{drain: 0}) }, "", ""},
		{"it stops", func(x *tap) { x.run(15, flows{drain: 1}).run(70, flows{drain: 0}) }, "+drain_running -drain_running ", detect.ActNow},
		{"a backwash seen by ten-litre pulses", func(x *tap) {
			x.sensors.Meter(drain).Step, x.sensors.Meter(drain).Steps = 10, 100
			x.run(60, flows{drain: 0})
			for range 8 {
				x.run(1, flows{drain: 10}).run(1, flows{drain: 0})
			}
			x.run(200, flows{drain: 0})
		}, "", ""},
		{"a regeneration", func(x *tap) {
			x.view.Regenerating, x.view.Ongoing.Start = true, x.minute.Start
			x.run(80, flows{drain: 4})
			x.view.Regenerating = false
			x.run(10, flows{drain: 0.3}).run(300, flows{drain: 0})
		}, "", ""},
	} {
		x := newTap(&DrainRunningWatch{}, home)
		c.play(x)
		if got := x.said(); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
		if len(x.verdicts) > 0 && x.verdicts[0].Severity != c.severity {
			t.Errorf("%s: %s, want %s", c.name, x.verdicts[0].Severity, c.severity)
		}
	}
}
