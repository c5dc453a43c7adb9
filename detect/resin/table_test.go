package resin

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"brinebell/detect"
)

// table reads a file of published check values, its head and comments left out.
func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/tables/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return records[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// grains is eq as grains of calcium carbonate: 64.79891 mg each.
func grains(eq float64) float64 { return eq * detect.EquivalentCaCO3 * 1000 / 64.79891 }

// computed is what the package says of one row of resin.csv in the row's unit.
func computed(quantity string, input float64) float64 {
	const litresPerFt3, kgPerPound = 28.316846592, 0.45359237
	perFt3 := func(dose float64) float64 {
		return grains(litresPerFt3 * Capacity(detect.SodiumChloride, dose*kgPerPound*1000/litresPerFt3))
	}
	switch quantity {
	case "stoichiometric_nacl":
		return grains(Stoichiometric(detect.SodiumChloride, kgPerPound))
	case "stoichiometric_kcl":
		return grains(Stoichiometric(detect.PotassiumChloride, kgPerPound))
	case "salt_for_2_eq":
		return TotalCapacity * litresPerFt3 / Stoichiometric(detect.SodiumChloride, kgPerPound)
	case "eq_per_litre":
		return 1 / eqPerGrain
	case "lb_per_ft3":
		return gramsPerPoundPerFt3
	case "efficiency":
		return perFt3(input) / input
	case "capacity":
		return perFt3(input)
	case "floor_2000":
		return EfficiencyFloor2000
	case "floor_2002":
		return EfficiencyFloor2002
	case "water_ceiling":
		return WaterCeiling
	}
	return math.NaN()
}

// Sources: in the table, row by row.
func TestAgainstPublishedValues(t *testing.T) {
	for _, c := range table(t, "resin.csv") {
		input := 0.0
		if c[1] != "" {
			input = number(t, c[1])
		}
		got, want, percent := computed(c[0], input), number(t, c[3]), number(t, c[5])
		ok := math.Abs(got/want-1) <= percent/100
		if c[2] == "above" {
			ok = got >= want*(1-percent/100)*(1-1e-9)
		}
		if !ok {
			t.Errorf("%s %s: %.6g %s, but %s (%s) says %s %v within %v %%", c[0], c[1], got, c[4], c[6], c[7], c[2], want, percent)
		}
	}
}

// Sources: in the table, row by row.
func TestSodiumAdded(t *testing.T) {
	for _, c := range table(t, "sodium.csv") {
		hardness, err := detect.Convert(number(t, c[0]), c[1], detect.Hardness)
		if err != nil {
			t.Fatal(err)
		}
		want := number(t, c[2])
		if got := SodiumAdded(detect.SodiumChloride, hardness); math.Abs(got/want-1) > number(t, c[3])/100 {
			t.Errorf("%s %s adds %.4f mg/L of sodium, but %s says %v", c[0], c[1], got, c[4], want)
		}
	}
	if SodiumAdded(detect.PotassiumChloride, 300) != 0 {
		t.Error("potassium chloride adds no sodium")
	}
}

// Source: NIST Special Publication 811 (2008), appendix B.8, and definitions, row
// by row in the table. Capacities and doses here lean on these factors.
func TestUnitFactors(t *testing.T) {
	for _, c := range table(t, "units.csv") {
		got, err := detect.Convert(1, c[1], detect.Dimension(c[0]))
		want := number(t, c[2])
		if err != nil || math.Abs(got/want-1) > number(t, c[3])*1e-6+1e-12 {
			t.Errorf("1 %s is %v (%v), but %s says %v", c[1], got, err, c[4], want)
		}
	}
}
