package sequential

import (
	"math"
	"math/rand/v2"
	"testing"
)

// NIST/SEMATECH e-Handbook 6.3.2.3, seen in a secondary citation; in the
// units of the data.
func TestHandbookCUSUM(t *testing.T) {
	data := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
		324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	want := []float64{3.0075, 4.9400, 7.4475, 10.6300, 11.9875, 14.4450, 16.0025, 19.0350}
	c := NewTwoSided(0.3175, 4.1959)
	first := 0
	for i, x := range data {
		side := c.Add(x - 325)
		if first == 0 && side != 0 {
			first = i + 1
			if side != 1 || c.Up.Since != 2 {
				t.Errorf("side %d since %d: the mean rose with the 13th", side, c.Up.Since)
			}
		}
		if i >= 12 && math.Abs(c.Up.Sum-want[i-12]) > 1e-9 {
			t.Errorf("upper sum %d: %g, want %g", i+1, c.Up.Sum, want[i-12])
		}
	}
	if first != 14 {
		t.Errorf("first signal at %d, want 14", first)
	}
}

// simulate is the mean run length of a test, and its standard error.
func simulate(runs int, seed uint64, mean float64, fresh func() func(float64) bool) (length, sd float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	var m Moments
	for range runs {
		add, n := fresh(), 1
		for !add(r.NormFloat64() + mean) {
			n++
		}
		m.Add(float64(n))
	}
	return m.Mean, m.Deviation() / math.Sqrt(float64(runs))
}

// The streaming test behaves as the integral equation says, head start
// included.
func TestCUSUMRunsAsLongAsTheIntegralSays(t *testing.T) {
	for _, c := range []struct{ k, h, mean, head float64 }{
		{0.5, 4, 0, 0}, {0.5, 4, 1, 0}, {0.25, 6, 0.5, 0}, {0.5, 4, 0, 0.5}, {0.5, 5, 1, 0.5}, {1, 2.5, 2, 0},
	} {
		got, sd := simulate(4000, 7, c.mean, func() func(float64) bool {
			s := CUSUM{Reference: c.k, Limit: c.h}
			s.Reset(c.head)
			return s.Add
		})
		if want := exactRunLength(c.k, c.h, c.mean, c.head*c.h); math.Abs(got-want) > 4*sd {
			t.Errorf("%+v: %g ± %g, want %g", c, got, sd, want)
		}
	}
}

func TestTwoSidedNamesTheSide(t *testing.T) {
	c := NewTwoSided(0.5, 4)
	for range 20 {
		if c.Add(-2) < 0 {
			c.Reset(0)
			if c.Add(math.NaN()) != 0 || c.Down.Sum != 0 {
				t.Error("what nobody measured moved a sum")
			}
			return
		}
	}
	t.Error("a fall was not seen")
}
