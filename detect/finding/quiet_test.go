package finding

import (
	"math"
	"math/rand/v2"
	"testing"
)

// quantised turns the litres of each minute into whole pulses.
func quantised(litres []float64, pulse float64) []float32 {
	out := make([]float32, len(litres))
	total, told := 0.0, 0.0
	for i, l := range litres {
		total += l
		now := math.Floor(total/pulse+1e-9) * pulse
		out[i] = float32(now - told)
		told = now
	}
	return out
}

// steady is a constant flow in L/min.
func steady(n int, rate float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = rate
	}
	return out
}

// refills puts a portion into a minute every so many.
func refills(n int, portion float64, every int) []float64 {
	out := make([]float64, n)
	for i := every / 2; i < n; i += every {
		out[i] = portion
	}
	return out
}

// people draws portions of any size at any time.
func people(n int, seed uint64, perHour float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 9))
	out := make([]float64, n)
	for i := range out {
		if r.Float64() < perHour/60 {
			out[i] = 0.3 + 8*r.Float64()*r.Float64()
		}
	}
	return out
}

func TestShapeOf(t *testing.T) {
	for _, c := range []struct {
		name    string
		litres  []float64
		pulse   float64
		rate    float64
		pattern Pattern
		regular bool
	}{
		{"trickle, fine meter", steady(120, 0.05), 0.00225, 0.05, Steady, true},
		{"trickle, litre pulses", steady(240, 0.05), 1, 0.05, Steady, true},
		{"cistern, fine meter", refills(120, 0.8, 25), 0.00225, 0.032, Refilling, true},
		{"cistern, longer", refills(240, 0.8, 25), 0.00225, 0.032, Refilling, true},
		{"cistern, litre pulses", refills(240, 0.8, 25), 1, 0.032, Refilling, true},
		{"cistern, quick", refills(120, 1.2, 3), 0.1, 0.4, Refilling, true}, // forty, a window of two hours
		{"two pulses", steady(60, 1.0/30), 1, 1.0 / 30, Steady, false},
	} {
		s := shapeOf(quantised(c.litres, c.pulse), c.pulse)
		if math.Abs(s.rate-c.rate) > 0.15*c.rate || s.pattern != c.pattern || s.regular != c.regular {
			t.Errorf("%s: %+v, want %g %s %v", c.name, s, c.rate, c.pattern, c.regular)
		}
	}
}

// What people draw is seldom taken for a leak's water: in at most one window of
// fifty, and a leak must look so on two mornings in a row.
func TestPeopleAreIrregular(t *testing.T) {
	for _, perHour := range []float64{1, 2, 4, 8} {
		for _, pulse := range []float64{0.01, 0.1, 1} {
			regular := 0
			const windows = 1000
			for seed := range uint64(windows) {
				if shapeOf(quantised(people(240, seed, perHour), pulse), pulse).regular {
					regular++
				}
			}
			if regular > windows/50 {
				t.Errorf("%g uses an hour, pulse %g: %d of %d windows look like a leak", perHour, pulse, regular, windows)
			}
		}
	}
}

func TestLastDryAndQuietest(t *testing.T) {
	nan := float32(math.NaN())
	flows := make([]float32, 600)
	for i := range flows {
		flows[i] = 1
	}
	for i := 200; i < 280; i++ {
		flows[i] = 0
	}
	if got := lastDry(flows, 60, 0.5); got != 280 {
		t.Error("the last dry hour ends when water runs again:", got)
	}
	if got := lastDry(flows, 90, 0.5); got != -1 {
		t.Error("there is no dry stretch so long:", got)
	}
	for i := 400; i < 480; i++ {
		flows[i] = nan
	}
	if got := lastDry(flows, 60, 0.5); got != 280 {
		t.Error("unknown is not dry:", got)
	}
	if start, litres := quietest(flows, 60); start < 200 || start > 220 || litres != 0 {
		t.Error(start, litres)
	}
	if start, _ := quietest(flows[400:480], 60); start != -1 {
		t.Error("nothing known has no quietest hour:", start)
	}
	if lastDry(flows[:10], 60, 1) != -1 {
		t.Error("too short")
	}
}
