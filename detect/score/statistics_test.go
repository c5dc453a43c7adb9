package score

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// The example of binom.test in R's documentation: 682 giants among 925 plants
// (Conover, Practical Nonparametric Statistics, 1971, page 97); R gives the
// Clopper-Pearson interval 0.7076683 to 0.7654066 (values from memory). With
// none or all found the bound has a closed form, 1 - 0.025^(1/n): 0.3085 for
// ten, a common table value.
func TestExactInterval(t *testing.T) {
	for _, c := range []struct {
		found, n        int
		low, high, tolr float64
	}{
		{682, 925, 0.7076683, 0.7654066, 5e-7},
		{0, 10, 0, 0.3084971, 5e-7},
		{10, 10, 0.6915029, 1, 5e-7},
		{0, 0, 0, 1, 0},
	} {
		s := Exact(c.found, c.n)
		if !near(s.Low, c.low, c.tolr) || !near(s.High, c.high, c.tolr) {
			t.Errorf("%d of %d: %.7f to %.7f, want %.7f to %.7f", c.found, c.n, s.Low, s.High, c.low, c.high)
		}
	}
}

// By its definition each end of the interval leaves a tail of 0.025 of the
// binomial distribution, computed here by summing it.
func TestExactIntervalByDefinition(t *testing.T) {
	for _, n := range []int{1, 3, 12, 40} {
		for found := 1; found < n; found++ {
			s := Exact(found, n)
			atLow := distuv.Binomial{N: float64(n), P: s.Low}
			atHigh := distuv.Binomial{N: float64(n), P: s.High}
			above, below := 0.0, 0.0
			for k := range n + 1 {
				if k >= found {
					above += atLow.Prob(float64(k))
				}
				if k <= found {
					below += atHigh.Prob(float64(k))
				}
			}
			if !near(above, 0.025, 1e-6) || !near(below, 0.025, 1e-6) {
				t.Errorf("%d of %d: tails %.6f and %.6f", found, n, above, below)
			}
		}
	}
}

// Without a single alarm the bound is Garwood's 3.689 for a count of none, the
// first row of every table of Poisson intervals.
func TestNoAlarmsStillHaveABound(t *testing.T) {
	low, high := Bootstrap([]int{0, 0}, []float64{1, 3}, rand.New(rand.NewPCG(1, 1)).IntN)
	if low != 0 || !near(high, 3.689/4, 1e-3) {
		t.Errorf("%v to %v", low, high)
	}
}

// Where alarms come one by one and homes are many and alike, the bootstrap must
// agree with the normal interval for a Poisson count: 1.96 roots either side.
func TestBootstrapAgainstPoisson(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	poisson := distuv.Poisson{Lambda: 0.8, Src: r}
	counts, years := make([]int, 1500), make([]float64, 1500)
	total := 0
	for i := range counts {
		counts[i], years[i] = int(poisson.Rand()), 0.5
		total += counts[i]
	}
	low, high := Bootstrap(counts, years, r.IntN)
	rate, half := float64(total)/750, 1.96*math.Sqrt(float64(total))/750
	if !near(low, rate-half, 0.15*half) || !near(high, rate+half, 0.15*half) {
		t.Errorf("%.4f to %.4f, want %.4f to %.4f", low, high, rate-half, rate+half)
	}
}

// Alarms that come together at a few homes say less than as many that come
// alone.
func TestBootstrapIsWiderWhereAlarmsComeTogether(t *testing.T) {
	alone, together, years := make([]int, 100), make([]int, 100), make([]float64, 100)
	for i := range years {
		years[i] = 1
		if i < 50 {
			alone[i] = 1
		}
	}
	together[0] = 50
	aLow, aHigh := Bootstrap(alone, years, rand.New(rand.NewPCG(1, 2)).IntN)
	tLow, tHigh := Bootstrap(together, years, rand.New(rand.NewPCG(1, 2)).IntN)
	if tHigh-tLow < 3*(aHigh-aLow) {
		t.Errorf("together %.2f to %.2f, alone %.2f to %.2f", tLow, tHigh, aLow, aHigh)
	}
}

// The example of isoreg in R's documentation: 1 0 4 3 3 5 4 2 0; the fit
// follows by hand: the last seven have a mean of 21/7.
func TestIsotonic(t *testing.T) {
	y := []float64{1, 0, 4, 3, 3, 5, 4, 2, 0}
	fit := Isotonic(y, []float64{1, 1, 1, 1, 1, 1, 1, 1, 1})
	if want := []float64{0.5, 0.5, 3, 3, 3, 3, 3, 3, 3}; !slices.EqualFunc(fit, want, func(a, b float64) bool { return near(a, b, 1e-12) }) {
		t.Errorf("%v", fit)
	}
}

// No non-decreasing sequence of the same grid is closer to what was seen.
func TestIsotonicIsClosest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		y, w := make([]float64, n), make([]float64, n)
		for i := range y {
			y[i] = float64(rapid.IntRange(0, 4).Draw(t, "y"))
			w[i] = float64(rapid.IntRange(1, 3).Draw(t, "w"))
		}
		fit := Isotonic(y, w)
		if !slices.IsSorted(fit) {
			t.Fatalf("%v", fit)
		}
		off := func(f []float64) (sum float64) {
			for i := range f {
				sum += w[i] * (f[i] - y[i]) * (f[i] - y[i])
			}
			return sum
		}
		best := off(fit)
		var try func(f []float64)
		try = func(f []float64) {
			if len(f) == n {
				if o := off(f); o < best-1e-9 {
					t.Fatalf("%v is closer to %v than %v", f, y, fit)
				}
				return
			}
			from := 0.0
			if len(f) > 0 {
				from = f[len(f)-1]
			}
			for v := from; v <= 4; v += 0.5 {
				try(append(f[:len(f):len(f)], v))
			}
		}
		try(nil)
	})
}

func severities(found ...bool) []Judged {
	var all []Judged
	for i, f := range found {
		j := Judged{Outcome: Missed}
		if f {
			j.Outcome = Found
		}
		j.Severity = float64(i+1) / 20
		all = append(all, j)
	}
	return all
}

func TestSmallestFound(t *testing.T) {
	const y, n = true, false
	for _, c := range []struct {
		of   []Judged
		want float64
	}{
		{severities(n, n, n, y, y, y, y, y), 0.2},
		{severities(n, n, n, n, n, n, y, y), 0},                            // two lucky ones claim nothing
		{severities(n, y, n, y, y, y, y, y, y), 0.2},                       // one small one found does not pull it down
		{severities(n, n, y, y, y, y, n, y, y, y, y, y), 0.4},              // a hole in the middle counts against
		{severities(y, y, y, y, y, y, y, y, y, n, y, y, y, y, y, y), 0.05}, // nine in ten is enough
		{nil, 0},
	} {
		if got := smallest(curve(c.of), c.of); !near(got, c.want, 1e-12) {
			t.Errorf("%v: %v, want %v", curve(c.of), got, c.want)
		}
	}
}

// Three equal groups that are said 0.15, 0.55 and 0.95 and are right in none,
// half and all: the error is the mean of 0.15, 0.05 and 0.05.
func TestCalibrationError(t *testing.T) {
	var all []share
	for i := range 4 {
		all = append(all, share{p: 0.15}, share{p: 0.55, right: i < 2}, share{p: 0.95, right: true})
	}
	s := surenessOf("made up", all)
	brier := (0.15*0.15 + (0.45*0.45+0.55*0.55)/2 + 0.05*0.05) / 3
	if !near(s.Error, 0.25/3, 1e-12) || !near(s.Brier, brier, 1e-12) || len(s.Bins) != 3 {
		t.Errorf("%+v", s)
	}
}

// Who says 70 % and is right seven times in ten is honest, however many he says.
func TestHonestProbabilitiesHaveNoError(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var all []share
	for range 20000 {
		p := r.Float64()
		all = append(all, share{p: p, right: r.Float64() < p})
	}
	if s := surenessOf("honest", all); s.Error > 0.02 || !near(s.Brier, 1.0/6, 0.01) {
		t.Errorf("error %.3f, Brier %.3f", s.Error, s.Brier)
	}
}
