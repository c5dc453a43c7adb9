package column

import (
	"math"
	"testing"
)

// The worked example of a general geochemistry program: a column of exchanger
// flushed with calcium chloride (source in the table's head). It assumes local
// equilibrium, so transfer is made fast here; a train of slices spreads like a
// dispersivity of half a slice, so that 20 slices of 4 mm stand for 2 mm. Its
// exchange constants, log K 0.8 for calcium and 0.7 for potassium, act on
// concentrations and on equivalent fractions, and make y/ym^2 = K/(2C) x/xm^2.
// Ahead of the calcium runs potassium, sodium having left before: one
// monovalent ion is enough for what calcium does. Where the front is steepest,
// 0.08 of the feed is 0.012 pore volumes.
func TestColumnAgreesWithAWorkedExchangeExample(t *testing.T) {
	const (
		cells    = 20
		strength = 0.0012
		capacity = 0.0011 * DefaultVoids
	)
	k := math.Pow(10, 0.8-2*0.7) / (2 * capacity)
	c := New(Options{Resin: 1, Cells: cells, Capacity: capacity, Particle: 1e9, Selectivity: Selectivity{Calcium: k, Magnesium: k}}, Water{Total: strength})
	tracer := New(Options{Resin: 1, Cells: cells}, Water{Total: strength})
	const step = DefaultVoids / cells / 40
	var poured float64
	for _, row := range table(t, "column_exchange.csv") {
		var ca, cl float64
		for until := number(t, row["pore_volumes"]) * DefaultVoids; poured < until; poured += step {
			ca = c.Advance(step, 1e6, Water{Calcium: strength, Total: strength}, false).Calcium / strength
			cl = tracer.Advance(step, 1e6, Water{Total: 2 * strength}, false).Total/strength - 1
		}
		t.Logf("%s pore volumes: chloride %.3f, example %s; calcium %.3f, example %s", row["pore_volumes"], cl, row["chloride"], ca, row["calcium"])
		if d := cl - number(t, row["chloride"]); math.Abs(d) > 0.02 {
			t.Errorf("%s pore volumes: chloride off by %.3f of the feed", row["pore_volumes"], d)
		}
		if d := ca - number(t, row["calcium"]); math.Abs(d) > 0.08 {
			t.Errorf("%s pore volumes: calcium off by %.3f of the feed", row["pore_volumes"], d)
		}
	}
}
