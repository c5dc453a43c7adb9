package resin

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinebell/detect"
)

func anySalt(t *rapid.T) detect.Salt {
	return rapid.SampledFrom([]detect.Salt{detect.SodiumChloride, detect.PotassiumChloride}).Draw(t, "salt")
}

// Capacity rises with the dose, efficiency falls, and neither physical limit is
// passed: 5,994 grains/lb by stoichiometry, 43,740 grains/ft3 in all.
func TestCapacityInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt := anySalt(t)
		a := rapid.Float64Range(0.5, 600).Draw(t, "dose")
		b := a * rapid.Float64Range(1.001, 2).Draw(t, "factor")
		ca, cb := Capacity(salt, a), Capacity(salt, b)
		if cb <= ca {
			t.Fatalf("capacity fell from %v to %v between %v and %v g/L", ca, cb, a, b)
		}
		if cb/b > ca/a*(1+1e-9) {
			t.Fatalf("efficiency rose from %v to %v eq/g between %v and %v g/L", ca/a, cb/b, a, b)
		}
		if cb > TotalCapacity || cb > Stoichiometric(salt, b/1000) {
			t.Fatalf("%v eq/L at %v g/L passes a physical limit", cb, b)
		}
	})
}

func TestDoseInvertsCapacity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt, dose := anySalt(t), rapid.Float64Range(0.1, 500).Draw(t, "dose")
		if got := Dose(salt, Capacity(salt, dose)); math.Abs(got-dose) > 1e-6*dose {
			t.Fatalf("dose %v came back as %v", dose, got)
		}
	})
}

func TestCapacityAtTheEnds(t *testing.T) {
	if Capacity(detect.SodiumChloride, 0) != 0 || Capacity(detect.SodiumChloride, -1) != 0 || Dose(detect.SodiumChloride, 0) != 0 {
		t.Error("no salt, no capacity")
	}
	if !math.IsInf(Dose(detect.SodiumChloride, 2.1), 1) {
		t.Error("no dose maintains more than the resin holds")
	}
	if !math.IsNaN(Capacity(detect.SodiumChloride, math.NaN())) || !math.IsNaN(Dose(detect.SodiumChloride, math.NaN())) ||
		!math.IsNaN(BedCapacity(detect.SodiumChloride, 0, 2)) {
		t.Error("what is not known must stay unknown")
	}
}

// A bed never gains more than the salt can displace, nor loses by regenerating.
func TestAfterKeepsTheBooks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		salt := anySalt(t)
		litres := rapid.Float64Range(5, 80).Draw(t, "resin")
		kg := rapid.Float64Range(0, 10).Draw(t, "salt")
		left := rapid.Float64Range(0, 1.2).Draw(t, "left") * litres
		after := After(salt, litres, kg, left)
		if after < left || after > left+Stoichiometric(salt, kg)+1e-9 {
			t.Fatalf("%v kg took the bed from %v to %v eq", kg, left, after)
		}
	})
	if got := After(detect.SodiumChloride, 28, 0, 7); got != 7 {
		t.Errorf("a regeneration without salt left %v of 7 eq", got)
	}
}
