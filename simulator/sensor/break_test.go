package sensor

import (
	"testing"

	"brinebell/detect"
)

func TestEveryModeShows(t *testing.T) {
	for _, m := range Modes() {
		d := meterDevice(Meter{Pulse: 0.1, Gain: 1}, Link{})
		sound := run(d, 2, 30)
		if err := d[0].Break(m, true, *flowing(2)); err != nil {
			t.Fatal(err)
		}
		var out []Sample
		for i := int64(30); i < 600; i++ {
			out = Step(d, i*60_000, (i+1)*60_000, flowing(2), out)
		}
		if !shows(m, out, sound[len(sound)-1].Value) {
			t.Errorf("%s does not show", m)
		}
		if err := d[0].Break(m, false, *flowing(2)); err != nil {
			t.Fatal(err)
		}
		mended := Step(d, 600*60_000, 660*60_000, flowing(2), nil)
		if n := len(mended); n != 360 || mended[n-1].Measured != mended[n-1].Arrived || mended[n-1].Value < 1200 {
			t.Errorf("%s does not heal: %d readings", m, n)
		}
	}
	d := meterDevice(Meter{Pulse: 0.1, Gain: 1}, Link{})
	if d[0].Break("sulking", true, Truth{}) == nil {
		t.Error("a sensor can sulk")
	}
}

// shows says whether readings look as the mode says.
func shows(m Mode, out []Sample, before float64) bool {
	odd := 0
	for _, s := range out {
		switch {
		case m == Stuck && s.Value-before > 0.4, // a reading is up to ten seconds old
			m == Astray && s.Measured-s.Arrived != clockJump:
			return false
		case m == Wild && (s.Value < 0 || s.Value > 5000 || s.Value == 0):
			odd++
		}
	}
	return m == Silent && len(out) == 0 || m == Wild && odd > len(out)/20 || (m == Stuck || m == Astray) && len(out) > 0
}

func TestFitFollowsSignalsAndMeters(t *testing.T) {
	home := detect.DefaultHome("a", nil)
	home.Meters.Inlet = &detect.Meter{Pulse: 1}
	names := func(kit string) (all []detect.Signal) {
		set, err := ParseSet(kit)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range Fit(home, Fitting{Signals: set, Interval: 10e9}, dice()) {
			for _, c := range d.Channels {
				all = append(all, c.Signal)
			}
		}
		return all
	}
	if got := names("least"); len(got) != 1 || got[0] != detect.BrineLevel {
		t.Errorf("least at a home with an inlet meter: %v", got)
	}
	if got := names("inlet_flow, inlet_volume"); len(got) != 2 {
		t.Errorf("rate and total: %v", got)
	}
	if got := names("full"); len(got) != 14 {
		t.Errorf("full: %v", got)
	}
	if _, err := ParseSet("inlet_flow,colour"); err == nil {
		t.Error("colour is a signal")
	}
}

// A step costs no memory once the buffers have grown.
func TestStepDoesNotAllocate(t *testing.T) {
	set, _ := ParseSet("full")
	home := detect.DefaultHome("a", nil)
	home.Meters.Inlet, home.Meters.Service, home.Meters.Drain = &detect.Meter{Pulse: 1}, &detect.Meter{Pulse: 1}, &detect.Meter{Pulse: 1}
	d := Fit(home, Fitting{Signals: set, Interval: 10e9}, dice())
	for i := range d {
		d[i].Start(0, dice())
	}
	out, now, truth := make([]Sample, 0, 4096), int64(0), flowing(3)
	if n := testing.AllocsPerRun(1000, func() {
		out = Step(d, now, now+60_000, truth, out[:0])
		now += 60_000
	}); n > 0 {
		t.Errorf("%.1f allocations a step", n)
	}
}
