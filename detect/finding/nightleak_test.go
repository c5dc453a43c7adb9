package finding

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
)

// household is days of a home: people who sleep, and whatever runs besides.
type household struct {
	sleeps  func(hour int) bool
	perHour float64 // uses while awake
	extra   func(minute int) float64
}

func sleeping(from, to int) func(int) bool {
	return func(h int) bool { return from > to && (h >= from || h < to) || h >= from && h < to }
}

func (h household) live(x *tap, days int, pulse float64) *tap {
	r := rand.New(rand.NewPCG(11, 3))
	x.sensors.Meter(detect.InletFlow).Step, x.sensors.Meter(detect.InletFlow).Steps = pulse, 100
	total, told := 0.0, 0.0
	for m := range days * 24 * 60 {
		hour := x.minute.Start.Hour()
		if !h.sleeps(hour) && r.Float64() < h.perHour/60 {
			total += 1 + 20*r.Float64()*r.Float64()
		}
		if h.extra != nil {
			total += h.extra(m)
		}
		now := math.Floor(total/pulse+1e-9) * pulse
		x.run(1, flows{detect.InletFlow: now - told})
		told = now
	}
	return x
}

func every(minutes int, litres float64) func(int) float64 {
	return func(m int) float64 {
		if m%minutes == 0 {
			return litres
		}
		return 0
	}
}

func from(day int, f func(int) float64) func(int) float64 {
	return func(m int) float64 {
		if m < day*24*60 {
			return 0
		}
		return f(m)
	}
}

// Difficult households whose water stops, and leaks whose water does not.
func TestNightLeak(t *testing.T) {
	night := sleeping(23, 6)
	for _, c := range []struct {
		name  string
		home  household
		pulse float64
		want  bool
		days  int // it must be raised within, from day 5 on
	}{
		{"quiet", household{night, 3, nil}, 0.1, false, 0},
		{"works at night", household{sleeping(8, 15), 3, nil}, 0.1, false, 0},
		{"up all hours", household{func(int) bool { return false }, 1.5, nil}, 0.1, false, 0},
		{"waters the garden from three to five", household{night, 3, func(m int) float64 {
			if h := m / 60 % 24; h >= 3 && h < 5 {
				return 12
			}
			return 0
		}}, 0.1, false, 0},
		{"ice maker", household{night, 3, every(95, 0.15)}, 0.1, false, 0},
		{"drip, fine meter", household{night, 3, from(5, every(1, 0.02))}, 0.01, true, 2},
		{"trickle, litre pulses", household{night, 3, from(5, every(1, 0.05))}, 1, true, 3},
		{"cistern", household{night, 3, from(5, every(12, 0.9))}, 0.1, true, 2},
		{"cistern, seldom", household{night, 3, from(5, every(40, 1.1))}, 0.1, true, 2},
		{"leak at a busy home", household{sleeping(1, 5), 8, from(5, every(1, 0.1))}, 0.1, true, 2},
		{"since ever", household{night, 3, every(1, 0.05)}, 0.1, true, -2},
	} {
		home := detect.DefaultHome("h", time.UTC)
		x := c.home.live(newTap(&NightLeakWatch{}, home), 12, c.pulse)
		if !c.want {
			if len(x.verdicts) > 0 {
				t.Errorf("%s: %s", c.name, x.verdicts[0].Summary)
			}
			continue
		}
		limit := x.minute.Start.AddDate(0, 0, -7+c.days).Add(8 * time.Hour)
		if len(x.verdicts) == 0 {
			t.Errorf("%s: not found", c.name)
		} else if first := x.verdicts[0]; first.Onset.After(limit) {
			t.Errorf("%s: onset %s", c.name, first.Onset)
		}
	}
}

func TestNightLeakCloses(t *testing.T) {
	leak := func(m int) float64 {
		if m >= 4*1440 && m < 8*1440 {
			return 0.1
		}
		return 0
	}
	x := household{sleeping(23, 6), 3, leak}.live(newTap(&NightLeakWatch{}, detect.DefaultHome("h", time.UTC)), 14, 0.1)
	last := x.verdicts[len(x.verdicts)-1]
	if last.Standing {
		t.Errorf("still standing: %s", x.said())
	}
	opened := 0
	for i, v := range x.verdicts {
		if v.Standing && (i == 0 || !x.verdicts[i-1].Standing) {
			opened++
		}
	}
	if opened != 1 {
		t.Errorf("one leak is one finding: %s", x.said())
	}
}

// 90 US gal a day, the worst tenth of homes (EPA WaterSense), is far above what
// any meter of a litre's pulse hides; one drip a second (USGS: 0.33 mL a drip)
// is above what a fine one does.
func TestVisibleLeak(t *testing.T) {
	if v := VisibleLeak(1, 0); v > 14.195/60/10 {
		t.Error(v)
	}
	if v := VisibleLeak(0.01, 0); v > 0.33e-3*60 {
		t.Error(v)
	}
	if v := VisibleLeak(0.01, 0.1); v != 0.1 {
		t.Error("a meter hides what is below its starting flow:", v)
	}
}
