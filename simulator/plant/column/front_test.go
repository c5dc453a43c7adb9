package column

import (
	"math"
	"testing"
)

// With an irreversible isotherm and transfer through the film alone the front
// has a closed form, which the column must approach as its slices get thin.
func TestFrontAgreesWithConstantPattern(t *testing.T) {
	for _, row := range table(t, "column_breakthrough.csv") {
		units, x, want := number(t, row["transfer_units"]), number(t, row["x"]), number(t, row["t"])
		got := breakthrough(units, x)
		if math.Abs(got-want) > 0.01 {
			t.Errorf("%v transfer units: effluent at %v of the feed after %.4f of the stoichiometric volume, formula %.4f", units, x, got, want)
		}
	}
}

// breakthrough is the volume over the stoichiometric one at which the effluent
// reaches the share x of the feed, in a bed of so many transfer units.
func breakthrough(units, x float64) float64 {
	const cells, resin, strength = 250, 1.0, 0.02
	c := New(Options{Resin: resin, Cells: cells, Particle: 1e6, Selectivity: Selectivity{Calcium: 1e6, Magnesium: 1e6}}, Water{Total: strength})
	feed := Water{Calcium: strength, Total: strength}
	flow := paceFor(c, units)
	step := resin * DefaultVoids / cells * chunkWater
	stoichiometric := resin * (DefaultCapacity + DefaultVoids*strength) / strength
	for v := 0.0; ; v += step {
		if out := c.Advance(step, step/flow, feed, false); out.Calcium >= x*strength {
			return (v + step/2) / stoichiometric
		}
	}
}

// paceFor is the flow in L/s at which the bed has so many transfer units: the
// film's rate grows with the cube root of the flow.
func paceFor(c *Column, units float64) float64 {
	low, high := 1e-6, 1e3
	for range 200 {
		mid := math.Sqrt(low * high)
		if c.filmRate(mid)*c.options.Resin/mid > units {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// Whatever the isotherm's shape, if it is favourable the middle of the front
// leaves when the feed has brought what the bed can hold: the shock of
// equilibrium theory (DeVault, J. Am. Chem. Soc. 65, 532 (1943)).
func TestFrontLeavesAtTheStoichiometricVolume(t *testing.T) {
	c := New(Options{Resin: 28.3, Cells: 40}, tap())
	feed := Water{Calcium: 0.006, Total: 0.0075}
	var taken, volume float64
	const step = 5.0
	for out := (Water{}); out.Calcium < 0.5*feed.Calcium; volume += step {
		out = c.Advance(step, step*6, feed, false)
		taken += step * (feed.Calcium - out.Calcium)
	}
	ca := loadInBalance(Sodium().Calcium, 0.8, 0.0075) * DefaultCapacity
	want := 28.3 * ca / feed.Calcium
	if math.Abs(volume/want-1) > 0.03 {
		t.Errorf("middle of the front after %.0f L, equilibrium theory %.0f L", volume, want)
	}
}

// loadInBalance finds by bisection the calcium share of the resin that stands
// in balance with a solution of calcium share x and the given strength.
func loadInBalance(k, x, strength float64) float64 {
	ratio := k * DefaultCapacity / strength * x / ((1 - x) * (1 - x))
	low, high := 0.0, 1.0
	for range 200 {
		mid := (low + high) / 2
		if mid/((1-mid)*(1-mid)) < ratio {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func TestSpentBedStandsInEquilibriumWithItsFeed(t *testing.T) {
	for _, strength := range []float64{0.003, 0.02, 0.2, 2} {
		c := New(Options{Resin: 1}, Water{Total: strength})
		feed := Water{Calcium: 0.6 * strength, Total: strength}
		litres := 20 * DefaultCapacity / strength
		c.Advance(litres, litres*600, feed, false)
		want := loadInBalance(Sodium().Calcium, 0.6, strength)
		if got := c.Loaded(); math.Abs(got-want) > 2e-3 {
			t.Errorf("strength %v eq/L: resin holds %.4f calcium, mass action %.4f", strength, got, want)
		}
	}
}

// The stronger the solution, the less the resin cares for calcium: what makes
// regeneration possible at all (electroselectivity).
func TestSelectivityFallsWithStrength(t *testing.T) {
	last := 1.0
	for _, strength := range []float64{0.005, 0.05, 0.5, 2, 5} {
		share := loadInBalance(Sodium().Calcium, 0.3, strength)
		bal := Sodium().solve(share*2, 0, 2, strength)
		if math.Abs(bal.ca-0.3*strength) > 1e-6*strength {
			t.Errorf("strength %v: balance %.5f, want %.5f", strength, bal.ca/strength, 0.3)
		}
		if share >= last {
			t.Errorf("strength %v: share %.3f after %.3f", strength, share, last)
		}
		last = share
	}
}

func TestSlopesAreDerivatives(t *testing.T) {
	k := Sodium()
	const h = 1e-6
	for _, y := range [][2]float64{{0.1, 0.05}, {1, 0.4}, {1.6, 0.2}, {0.02, 1.9}} {
		for _, strength := range []float64{0.006, 1.8} {
			a := k.solve(y[0], y[1], 2, strength)
			ca := k.solve(y[0]+h, y[1], 2, strength).ca - k.solve(y[0]-h, y[1], 2, strength).ca
			mg := k.solve(y[0], y[1]+h, 2, strength).mg - k.solve(y[0], y[1]-h, 2, strength).mg
			if math.Abs(ca/(2*h)/a.caSlope-1) > 1e-4 || math.Abs(mg/(2*h)/a.mgSlope-1) > 1e-4 {
				t.Errorf("load %v, strength %v: slopes %g, %g against %g, %g", y, strength, a.caSlope, a.mgSlope, ca/(2*h), mg/(2*h))
			}
		}
	}
}
