package column

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Conversions as in the table's head.
const (
	gramsPerPound   = 16.01846
	grainsPerEqPerL = 21868.8
	mgPerEq         = 50043.45 // CaCO3, half of 100.0869 g/mol
)

// table reads a table of check values as rows by column name.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "testdata", "tables", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, v := range line {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// tap is the feed of the trade's capacity test, 20 grains per gallon (342 mg/L).
func tap() Water {
	h := 342 / mgPerEq
	return Water{Calcium: 0.7 * h, Magnesium: 0.3 * h, Total: 1.2 * h}
}

// regenerate gives the bed a dose of salt in g per litre of bed, as 10 % brine
// at 4 bed volumes an hour, two bed volumes of slow and two of fast rinse.
func regenerate(c *Column, dose float64) {
	resin := c.Options().Resin
	const strength = 107.0 // g/L, 10 % by mass: 1070.7 kg/m3 (Poradnik fizykochemiczny, WNT 1974)
	slow, fast := 3600/(4*resin), 3600/(15*resin)
	volume := dose * resin / strength
	c.Advance(volume, volume*slow, Water{Total: strength / 58.4428}, false)
	c.Advance(2*resin, 2*resin*slow, tap(), false)
	c.Advance(2*resin, 2*resin*fast, tap(), false)
}

// exhaust runs half of 4 gpm/ft3 until the effluent holds 1 grain per gallon,
// and returns the eq of hardness taken out per litre of bed.
func exhaust(c *Column) float64 {
	resin := c.Options().Resin
	step := resin / 30
	var eq float64
	for {
		out := c.Advance(step, step*60/(0.27*resin), tap(), false)
		if out.Hardness()*mgPerEq > 17.118 {
			return eq / resin
		}
		eq += step * (tap().Hardness() - out.Hardness())
	}
}

// settledCapacity is what the bed takes out per cycle once cycles repeat.
func settledCapacity(c *Column, dose float64) (eq float64) {
	for range 10 {
		regenerate(c, dose)
		eq = exhaust(c)
	}
	return eq
}

func TestCapacityAgainstDoseAgreesWithPublishedTable(t *testing.T) {
	for _, row := range table(t, "column_capacity.csv") {
		dose := number(t, row["lb_per_ft3"]) * gramsPerPound
		want := number(t, row["grains_per_ft3"]) / grainsPerEqPerL
		got := settledCapacity(New(Options{Resin: 28.3}, tap()), dose)
		t.Logf("%s lb/ft3: %.3f eq/L against %.3f, %+.1f %% (%s, %s)", row["lb_per_ft3"], got, want, 100*(got/want-1), row["source"], row["mark"])
		if got < 0.9*want || got > 1.1*want {
			t.Errorf("%s lb/ft3: capacity %.3f eq/L, published %.3f within 10 %%", row["lb_per_ft3"], got, want)
		}
	}
}

// The dose is per litre of resin, so the size of the bed must not matter.
func TestCapacityPerLitreHoldsForOtherSizes(t *testing.T) {
	small := settledCapacity(New(Options{Resin: 10}, tap()), 120)
	large := settledCapacity(New(Options{Resin: 60}, tap()), 120)
	if d := large/small - 1; d < -0.05 || d > 0.05 {
		t.Errorf("capacity of 60 L over that of 10 L differs by %.1f %%", 100*d)
	}
}

// Salt can give at most its equivalents: 5,994 grains per lb (Franks, Water
// Technology, Oct 2014), which is 1 eq of hardness per eq of salt.
func TestCapacityNeverBeatsStoichiometry(t *testing.T) {
	last := 0.0
	lastEfficiency := 1.0
	for _, dose := range []float64{60, 100, 150, 250, 400} {
		got := settledCapacity(New(Options{Resin: 28.3}, tap()), dose)
		efficiency := got / (dose / 58.4428)
		if efficiency >= 1 || got >= DefaultCapacity {
			t.Errorf("dose %v g/L: %.3f eq/L at efficiency %.3f", dose, got, efficiency)
		}
		if got <= last || efficiency >= lastEfficiency {
			t.Errorf("dose %v g/L: capacity %.3f after %.3f, efficiency %.3f after %.3f", dose, got, last, efficiency, lastEfficiency)
		}
		last, lastEfficiency = got, efficiency
	}
}

// Leakage through a freshly regenerated bed falls with the dose, since it
// comes from hardness that the brine left at the bed's foot.
func TestLeakageFallsWithDose(t *testing.T) {
	leak := func(dose float64) float64 {
		c := New(Options{Resin: 28.3}, tap())
		settledCapacity(c, dose)
		regenerate(c, dose)
		out := c.Advance(2*28.3, 2*28.3*8, tap(), false)
		return out.Hardness() * mgPerEq
	}
	low, middle, high := leak(60), leak(120), leak(300)
	if low <= middle || middle <= high {
		t.Errorf("leakage %.2f, %.2f, %.2f mg/L at 60, 120, 300 g/L", low, middle, high)
	}
	if middle > 17.118 {
		t.Errorf("leakage %.1f mg/L at a common dose is above 1 grain per gallon", middle)
	}
}
