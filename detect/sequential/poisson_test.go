package sequential

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestPoissonInformation(t *testing.T) {
	near(t, "1 to 2", PoissonInformation(1, 2), 0.386294, 2e-6)
	near(t, "0.1 to 0.5", PoissonInformation(0.1, 0.5), 0.404719, 2e-6)
}

// The count CUSUM runs as long as a Markov chain over its sums says.
func TestPoissonRunsAsLongAsTheChainSays(t *testing.T) {
	c := NewPoisson(1, 2, 5)
	near(t, "reference", c.Reference, 1/math.Ln2, 1e-12)
	const k, h = 1.5, 5
	for _, rate := range []float64{1, 2, 3} {
		r := rand.New(rand.NewPCG(3, uint64(rate)))
		counts := distuv.Poisson{Lambda: rate, Src: r}
		var m Moments
		for range 3000 {
			c, n := CUSUM{Reference: k, Limit: h}, 1
			for !c.Add(counts.Rand()) {
				n++
			}
			m.Add(float64(n))
		}
		want := chain(rate, k, h, 2)
		if se := m.Deviation() / math.Sqrt(m.N); math.Abs(m.Mean-want) > 4*se {
			t.Errorf("rate %g: %g ± %g, want %g", rate, m.Mean, se, want)
		}
	}
}

// A fall of the rate is found by the negated counts.
func TestPoissonFall(t *testing.T) {
	c := NewPoisson(4, 1, 10)
	for i := 1; ; i++ {
		if c.Add(-1) {
			if i < 5 || i > 12 {
				t.Errorf("found after %d", i)
			}
			return
		}
	}
}
