package column

import "math"

// Selectivity holds the resin's mass-action constants for calcium and
// magnesium against the monovalent ion of the salt, both phases as equivalent
// fractions: y/ym^2 = K (q/C) x/xm^2, where q is the bed's capacity and C the
// solution's strength, both in eq/L. The power of the strength is what lets
// the same resin take up hardness from tap water and give it to brine.
type Selectivity struct {
	Calcium, Magnesium float64
}

// Affinities of a gel resin with 8 % DVB relative to lithium, after Bonner and
// Smith, J. Phys. Chem. 61, 326 (1957), as tabulated in water treatment
// textbooks: from memory.
const (
	affinitySodium    = 2.0
	affinityPotassium = 2.9
	affinityMagnesium = 3.3
	affinityCalcium   = 5.2
)

// Sodium is the selectivity against sodium, Potassium that against potassium.
func Sodium() Selectivity {
	return Selectivity{affinityCalcium / affinitySodium, affinityMagnesium / affinitySodium}
}

// Potassium is the selectivity of a bed regenerated with potassium chloride.
func Potassium() Selectivity {
	return Selectivity{affinityCalcium / affinityPotassium, affinityMagnesium / affinityPotassium}
}

// balance is the solution that would stand in equilibrium with a cell's resin:
// concentrations in eq/L, and how each grows with its own load, in eq/L of
// solution per eq/L of bed.
type balance struct {
	ca, mg           float64
	caSlope, mgSlope float64
}

// leastMonovalent keeps the monovalent share of the resin from reaching zero,
// where mass action loses its meaning.
const leastMonovalent = 1e-4

// solve finds the balance of a bed of capacity q eq/L, loaded with ca and mg
// eq/L, with a solution of total strength c. With g the monovalent fraction in
// solution, mass action gives each hardness fraction as b g^2, and the
// fractions add to one: (bca + bmg) g^2 + g = 1.
func (k Selectivity) solve(ca, mg, q, c float64) balance {
	yca, ymg := ca/q, mg/q
	ym := 1 - yca - ymg
	clipped := ym < leastMonovalent
	if clipped {
		ym = leastMonovalent
	}
	f := c / (q * ym * ym)
	fca, fmg := f/k.Calcium, f/k.Magnesium
	b := fca*yca + fmg*ymg
	root := math.Sqrt(1 + 4*b)
	g := 2 / (1 + root)
	g2 := g * g
	bal := balance{ca: c * fca * yca * g2, mg: c * fmg * ymg * g2}
	// d(b_i g^2)/dy_i = g^2 db_i - 2 b_i g^3/root db, with ym falling as y_i rises.
	widen := 2 * b / ym
	if clipped {
		widen = 0
	}
	bal.caSlope = c / q * (g2*(fca+widen*share(fca*yca, b)) - 2*fca*yca*g2*g/root*(fca+widen))
	bal.mgSlope = c / q * (g2*(fmg+widen*share(fmg*ymg, b)) - 2*fmg*ymg*g2*g/root*(fmg+widen))
	return bal
}

func share(part, whole float64) float64 {
	if whole <= 0 {
		return 0
	}
	return part / whole
}
