package books

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestUsualOfAKnownSample(t *testing.T) {
	var h History
	for _, v := range []float64{8.1, 8.9, 8.5, 8.3, 8.7} {
		h.Learn(v, 8.5)
	}
	median, sigma := h.Usual() // deviations 0.4 0.4 0 0.2 0.2, their median 0.2
	if median != 8.5 || math.Abs(sigma-max(1.4826*0.2, 0.15*8.5/4)) > 1e-12 {
		t.Errorf("usual %v with spread %v", median, sigma)
	}
}

func TestTooShortAPastSaysNothing(t *testing.T) {
	var h History
	for range enoughHistory - 1 {
		h.Learn(8.5, 8.5)
	}
	if m, s := h.Usual(); !math.IsNaN(m) || !math.IsNaN(s) {
		t.Error("three regenerations make no usual")
	}
}

// A fault that lasts never becomes usual, from the first regeneration or later.
func TestAFaultDoesNotTeach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		var h History
		for range rapid.IntRange(0, 30).Draw(t, "good") {
			h.Learn(8.5*(1+0.05*r.NormFloat64()), 8.5)
		}
		for range 40 {
			if h.Learn(8.5*rapid.Float64Range(0, 0.45).Draw(t, "share"), 8.5) {
				t.Fatal("less than half the brine was taken as usual")
			}
		}
	})
}

// With noise alone, nearly everything is taken.
func TestNoiseTeaches(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	var h History
	refused := 0
	for range 2000 {
		if !h.Learn(8.5*(1+0.08*r.NormFloat64()), 8.5) {
			refused++
		}
	}
	if refused > 20 {
		t.Errorf("%d of 2000 ordinary regenerations refused", refused)
	}
}

func TestUnknownDoesNotTeach(t *testing.T) {
	var h History
	if h.Learn(math.NaN(), 8) || h.Count != 0 {
		t.Error("nothing measured, nothing learnt")
	}
}
