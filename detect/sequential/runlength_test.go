package sequential

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// exactRunLength solves the Fredholm equation of the one-sided CUSUM's mean run
// length from a start s,
//
//	L(s) = 1 + L(0) Φ(k-s-μ) + ∫ L(u) φ(u+k-s-μ) du over (0, h),
//
// by Gauss-Legendre quadrature (Goel & Wu, Technometrics 13, 221, 1971).
func exactRunLength(k, h, mean, start float64) float64 {
	const n = 60
	unit := distuv.UnitNormal
	x, w := make([]float64, n+1), make([]float64, n+1)
	quad.Legendre{}.FixedLocations(x[1:], w[1:], 0, h) // x[0] is the barrier at zero
	a, b := mat.NewDense(n+1, n+1, nil), mat.NewVecDense(n+1, nil)
	for i := range x {
		b.SetVec(i, 1)
		for j := range x {
			p := w[j] * unit.Prob(x[j]+k-x[i]-mean)
			if j == 0 {
				p = unit.CDF(k - x[i] - mean)
			}
			if i == j {
				p--
			}
			a.Set(i, j, -p)
		}
	}
	var l mat.VecDense
	if err := l.SolveVec(a, b); err != nil {
		return math.Inf(1) // longer than float64 can part from never
	}
	at := 1 + l.AtVec(0)*unit.CDF(k-start-mean)
	for j := 1; j <= n; j++ {
		at += l.AtVec(j) * w[j] * unit.Prob(x[j]+k-start-mean)
	}
	return at
}

// exactTwoSided joins two one-sided run lengths; exact for |mean| where both
// sums are not above zero together (Kemp, J. R. Stat. Soc. B 23, 149, 1961).
func exactTwoSided(k, h, mean float64) float64 {
	return 1 / (1/exactRunLength(k, h, mean, 0) + 1/exactRunLength(k, h, -mean, 0))
}

func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: %g, want %g within %g %%", what, got, want, 100*share)
	}
}

// The mean run lengths of Lucas & Crosier 1982, Table 1 (h = 4, seen in a
// secondary citation), and those worked out from the integral equation by
// another program.
func TestPublishedRunLengths(t *testing.T) {
	shifts := []float64{0, .25, .5, .75, 1, 1.5, 2, 3}
	for _, c := range []struct {
		h     float64
		tol   float64
		table []float64
	}{
		{4, 0.004, []float64{168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.19}},
		{4, 1e-3, []float64{167.684, 74.224, 26.630, 13.285, 8.383, 4.747, 3.343, 2.195}},
		{5, 1e-3, []float64{465.444, 139.494, 37.996, 17.048, 10.376, 5.747, 4.009, 2.573}},
	} {
		for i, shift := range shifts {
			near(t, "two-sided", exactTwoSided(0.5, c.h, shift), c.table[i], c.tol)
		}
	}
	near(t, "one-sided, h 4", exactRunLength(0.5, 4, 0, 0), 335.368, 1e-5)
	near(t, "one-sided, h 5", exactRunLength(0.5, 5, 0, 0), 930.887, 1e-5)
	// Brook & Evans, Biometrika 59, 539 (1972), seen in a secondary citation.
	near(t, "Brook & Evans in control", exactRunLength(0.5, 3, 0, 0), 117.60, 1e-4)
	near(t, "Brook & Evans at 1.5", exactRunLength(0.5, 3, 1.5, 0), 3.75, 2e-3)
	for _, h := range []float64{4, 5} {
		for _, mean := range []float64{0, 0.25, 0.75, 1} {
			near(t, "Siegmund", Siegmund(0.5, h, mean), exactRunLength(0.5, h, mean, 0), 0.01)
		}
	}
	near(t, "limit", LimitFor(0.5, 930.887), 5, 0.01)
	near(t, "Siegmund at the reference", Siegmund(0.5, 4, 0.5), Siegmund(0.5, 4, 0.501), 0.01)
}

// chain is the mean run length of a CUSUM of counts in a Markov chain over its
// possible sums, exact where reference and limit are multiples of 1/parts
// (Brook & Evans 1972).
func chain(rate, k, h float64, parts int) float64 {
	n, step := int(math.Round(h*float64(parts)))+1, 1/float64(parts)
	a, b := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	counts := distuv.Poisson{Lambda: rate}
	for i := range n {
		a.Set(i, i, 1)
		b.SetVec(i, 1)
		for x := 0; x < 60; x++ {
			to := max(0, i+int(math.Round((float64(x)-k)/step)))
			if to < n {
				a.Set(i, to, a.At(i, to)-counts.Prob(float64(x)))
			}
		}
	}
	var l mat.VecDense
	if err := l.SolveVec(a, b); err != nil {
		panic(err)
	}
	return l.AtVec(0)
}
