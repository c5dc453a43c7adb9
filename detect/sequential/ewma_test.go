package sequential

import (
	"math"
	"testing"
)

// NIST/SEMATECH e-Handbook 6.3.2.4, seen in a secondary citation; the averages
// are printed to two decimals.
func TestHandbookEWMA(t *testing.T) {
	data := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	e := EWMA{Weight: 0.3, Target: 50, Sigma: 2.0539, Width: 3}
	for i, x := range data {
		if e.Add(x) {
			t.Errorf("%d is outside the limits", i+1)
		}
		if math.Abs(e.Value-want[i]) > 0.0051 {
			t.Errorf("average %d: %g, want %g", i+1, e.Value, want[i])
		}
	}
	low, high := e.Limits()
	if math.Abs(high-52.5884) > 5e-4 || math.Abs(low-47.4115) > 5e-4 {
		t.Errorf("limits %g to %g", low, high)
	}
	for range 3 {
		e.Add(56)
	}
	if !e.Add(math.NaN()) {
		t.Error("an average beyond its limit signals")
	}
}
