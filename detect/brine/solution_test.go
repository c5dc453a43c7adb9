package brine

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinebell/detect"
)

// row is one check value of a table under testdata/tables, with its source.
type row struct {
	quantity, strength, source  string
	temperature, value, percent float64
}

func table(t *testing.T, name string) []row {
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
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var rows []row
	for _, c := range records[1:] {
		rows = append(rows, row{c[0], c[2], c[5] + " (" + c[6] + ")", number(c[1]), number(c[3]), number(c[4])})
	}
	return rows
}

// fraction reads a row's strength: mass %, mol per kg of water, or saturated.
func (r row) fraction(salt detect.Salt, molar float64) float64 {
	if r.strength == "sat" {
		return SaturatedStrength(salt, r.temperature)
	}
	if m, ok := strings.CutSuffix(r.strength, "m"); ok {
		v, _ := strconv.ParseFloat(m, 64)
		return v * molar / (1000 + v*molar)
	}
	v, _ := strconv.ParseFloat(r.strength, 64)
	return v / 100
}

// computed is what the package says of the row's quantity, in the row's unit.
func (r row) computed(salt detect.Salt, molar float64) float64 {
	s := r.fraction(salt, molar)
	switch r.quantity {
	case "saturated_strength":
		return 100 * s
	case "saturated_ratio":
		return 100 * s / (1 - s)
	case "density":
		return 1000 * Density(salt, s, r.temperature)
	case "specific_volume":
		return 1 / Density(salt, s, r.temperature)
	case "salt_per_brine":
		return 1000 * SaturatedSalt(salt, r.temperature)
	case "dissolved_per_water":
		return DissolvedPerLitre(salt, r.temperature)
	case "growth":
		return Growth(salt, r.temperature)
	}
	return math.NaN()
}

func checkTable(t *testing.T, name string, salt detect.Salt, molar float64) {
	for _, r := range table(t, name) {
		got := r.computed(salt, molar)
		if off := 100 * (got/r.value - 1); !(math.Abs(off) <= r.percent) {
			t.Errorf("%s at %v degC, strength %s: %.5g, but %s says %.5g: off by %.2f %%, allowed %.2f %%",
				r.quantity, r.temperature, r.strength, got, r.source, r.value, off, r.percent)
		}
	}
}

// Molar masses from the IUPAC atomic masses: NaCl 58.4428, KCl 74.5513 g/mol.
func TestSodiumChlorideAgainstHandbooks(t *testing.T) {
	checkTable(t, "brine.csv", detect.SodiumChloride, 58.4428)
}

func TestPotassiumChlorideAgainstHandbooks(t *testing.T) {
	checkTable(t, "kcl.csv", detect.PotassiumChloride, 74.5513)
}

// The constant stands for every household temperature within 0.3 %.
func TestOneFigureForSaturatedBrine(t *testing.T) {
	for temperature := 0.0; temperature <= 40; temperature++ {
		if off := SaturatedSalt(detect.SodiumChloride, temperature)/SaturatedSaltPerLitre - 1; math.Abs(off) > 0.003 {
			t.Errorf("at %v degC the constant is off by %.2f %%", temperature, 100*off)
		}
	}
}

// Salt that dissolves is neither made nor lost: what a refill takes up is what
// the brine it becomes holds, and the masses add up.
func TestDissolvingKeepsMass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt := rapid.SampledFrom([]detect.Salt{detect.SodiumChloride, detect.PotassiumChloride}).Draw(t, "salt")
		temp := rapid.Float64Range(0, 40).Draw(t, "temperature")
		dose := rapid.Float64Range(0.1, 10).Draw(t, "dose")
		water, solution := WaterFor(salt, dose, temp), BrineFor(salt, dose, temp)
		masses := water*WaterDensity(temp) + dose
		if whole := solution * Density(salt, SaturatedStrength(salt, temp), temp); math.Abs(whole-masses) > 1e-9*masses {
			t.Fatalf("%v kg of brine from %v kg of salt and water", whole, masses)
		}
		if math.Abs(solution-water*Growth(salt, temp)) > 1e-9*solution {
			t.Fatal("growth does not bring the water to the brine's volume")
		}
	})
}

func TestStrengthInvertsDensity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt := rapid.SampledFrom([]detect.Salt{detect.SodiumChloride, detect.PotassiumChloride}).Draw(t, "salt")
		temp := rapid.Float64Range(0, 40).Draw(t, "temperature")
		s := rapid.Float64Range(0.001, 0.999).Draw(t, "share") * SaturatedStrength(salt, temp)
		if got := Strength(salt, Density(salt, s, temp), temp); math.Abs(got-s) > 1e-9 {
			t.Fatalf("strength %v came back as %v", s, got)
		}
	})
}

func TestTemperaturesBeyondTheTables(t *testing.T) {
	if SaturatedStrength(detect.SodiumChloride, -5) != SaturatedStrength(detect.SodiumChloride, 0) ||
		SaturatedStrength(detect.SodiumChloride, 70) != SaturatedStrength(detect.SodiumChloride, 40) {
		t.Error("beyond the tables the nearer end holds")
	}
	if SaturatedSalt("", math.NaN()) != SaturatedSalt(detect.SodiumChloride, OrdinaryTemperature) {
		t.Error("nothing known means sodium chloride in an ordinary room")
	}
}
