package column

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// books runs any sequence of waters through a column and compares what went in
// with what came out and what it holds.
func TestMassBalanceCloses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := Options{Resin: rapid.Float64Range(5, 80).Draw(t, "resin"), Cells: rapid.IntRange(4, 24).Draw(t, "cells")}
		c := New(o, tap())
		c.SetChannel(rapid.Float64Range(0, 0.5).Draw(t, "channel"))
		start := c.Holds()
		var in, out Water
		for range rapid.IntRange(1, 12).Draw(t, "waters") {
			strength := rapid.SampledFrom([]float64{0.002, 0.01, 0.1, 1.8, 4.5}).Draw(t, "strength")
			ca := rapid.Float64Range(0, 0.6).Draw(t, "calcium") * strength
			mg := rapid.Float64Range(0, 0.3).Draw(t, "magnesium") * strength
			litres := rapid.Float64Range(0.01, 300).Draw(t, "litres")
			seconds := litres * rapid.Float64Range(1, 60).Draw(t, "pace")
			feed := Water{ca, mg, strength}
			got := c.Advance(litres, seconds, feed, rapid.Bool().Draw(t, "up"))
			add(&in, feed, litres)
			add(&out, got, litres)
			c.Mixed(rapid.Float64Range(0, 0.1).Draw(t, "mixed"))
			sane(t, c)
		}
		end := c.Holds()
		closes(t, "calcium", in.Calcium, out.Calcium, end.Calcium-start.Calcium)
		closes(t, "magnesium", in.Magnesium, out.Magnesium, end.Magnesium-start.Magnesium)
		closes(t, "cations in the water", in.Total, out.Total, end.Total-start.Total)
	})
}

func add(sum *Water, w Water, litres float64) {
	sum.Calcium += w.Calcium * litres
	sum.Magnesium += w.Magnesium * litres
	sum.Total += w.Total * litres
}

func closes(t *rapid.T, what string, in, out, kept float64) {
	if d := math.Abs(in - out - kept); d > 1e-6*math.Max(in, 1e-3) {
		t.Errorf("%s: in %.9g, out %.9g, kept %.9g eq: %.2g missing", what, in, out, kept, d)
	}
}

// sane says that nothing is negative and no cell holds more than it can.
func sane(t *rapid.T, c *Column) {
	const dust = 1e-12
	for i, at := range c.cells {
		w := at.water
		if at.ca < -dust || at.mg < -dust || at.ca+at.mg > c.sites+dust {
			t.Fatalf("cell %d holds %g calcium, %g magnesium of %g", i, at.ca, at.mg, c.sites)
		}
		if w.Calcium < -dust || w.Magnesium < -dust || w.Hardness() > w.Total*(1+1e-9)+dust {
			t.Fatalf("cell %d has water %+v", i, w)
		}
	}
}

// What lost sites lock up must stay in the books.
func TestSitesLostAreInTheBooks(t *testing.T) {
	c := New(Options{Resin: 28.3}, tap())
	fed := 2000.0
	out := c.Advance(fed, fed*6, tap(), false)
	before := c.Holds()
	c.SetHealth(0.5, 1)
	after := c.Holds()
	if d := before.Hardness() - after.Hardness() - c.Sealed(); math.Abs(d) > 1e-9 {
		t.Errorf("%g eq missing", d)
	}
	in := fed * tap().Hardness()
	if d := in - fed*out.Hardness() - after.Hardness() - c.Sealed(); math.Abs(d) > 1e-6*in {
		t.Errorf("%g eq missing of %g", d, in)
	}
}
