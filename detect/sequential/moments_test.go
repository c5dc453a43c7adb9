package sequential

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// A large mean must not eat the variance: the shape of the NIST StRD sets
// NumAcc3 and NumAcc4 (1001 values, mean 1000000.2 and 10000000.2, alternating
// by 0.1; deviation 0.1 certified; definition from memory).
func TestNumericalAccuracy(t *testing.T) {
	for _, base := range []float64{1e6, 1e7} {
		m := Moments{}
		m.Add(base + 0.2)
		for range 500 {
			m.Add(base + 0.1)
			m.Add(base + 0.3)
		}
		near(t, "mean", m.Mean, base+0.2, 1e-14)
		near(t, "deviation", m.Deviation(), 0.1, 1e-7)
	}
}

func TestMomentsAgreeWithTheBatch(t *testing.T) {
	x := []float64{3, -1, 4, 1, -5, 9, 2, 6, -5, 3, 5}
	var m Moments
	for _, v := range x {
		m.Add(v)
		m.Add(math.NaN())
	}
	mean, sd := stat.MeanStdDev(x, nil)
	near(t, "mean", m.Mean, mean, 1e-12)
	near(t, "deviation", m.Deviation(), sd, 1e-12)
}

// With a memory, the mean follows; the variance stays that of the scatter.
func TestMomentsForget(t *testing.T) {
	m := Moments{Memory: 20}
	for i := range 400 {
		m.Add(float64(i/200*10) + float64(i%2)) // 0 or 1, then 10 or 11
	}
	near(t, "mean", m.Mean, 10.5, 0.01)
	near(t, "deviation", m.Deviation(), 0.51, 0.05)
	if one := (&Moments{N: 1}); !math.IsNaN(one.Deviation()) {
		t.Error("one value has no deviation")
	}
}
