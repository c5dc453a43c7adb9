package joint

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tolerance)
	}
}

// The burglary network of Russell and Norvig, Artificial Intelligence: A Modern
// Approach, after Pearl 1988 (numbers and the answer 0.284 from memory): burglary
// 0.001, earthquake 0.002, the alarm goes with 0.94, 0.29 and 0.001 alone and
// without; John calls 0.90 and 0.05, Mary 0.70 and 0.01. The alarm itself is not
// seen. The book's 0.95 with both is 0.957 by the noisy or; that changes the
// answer in the sixth place only.
func TestBurglary(t *testing.T) {
	s := NewSpace(2)
	alone := func(p float64) []float64 { q := (p - 0.001) / (1 - 0.001); return []float64{1 - q, q} }
	alarm := NewEffect([]float64{0.999, 0.001}, [][]float64{alone(0.94), alone(0.29)})
	calls := s.Log(alarm, []float64{0.05 * 0.01, 0.90 * 0.70})
	p := s.Posterior(s.Prior([]float64{0.001, 0.002}), calls)
	m := s.Marginals(p)
	near(t, "burglary given both calls", m[0], 0.284, 5e-4)
	near(t, "earthquake given both calls", m[1], 0.176, 5e-4)
}

// The chest clinic of Lauritzen and Spiegelhalter, J. R. Statist. Soc. B 50
// (1988) 157-224 (numbers from memory): tuberculosis 0.0104, lung cancer 0.055;
// either shows on the X-ray with 0.98, neither with 0.05. P(X-ray) is 0.1103;
// given it, tuberculosis 0.0924 and cancer 0.4887; after a visit to Asia
// (tuberculosis 0.05) and the X-ray, tuberculosis 0.3377.
func TestChestClinic(t *testing.T) {
	s := NewSpace(2)
	either := NewEffect([]float64{1, 0}, [][]float64{{0, 1}, {0, 1}})
	xray := s.Log(either, []float64{0.05, 0.98})
	for _, c := range []struct{ tub, wantTub, wantLung float64 }{{0.0104, 0.0924, 0.4887}, {0.05, 0.3377, 0.3715}} {
		m := s.Marginals(s.Posterior(s.Prior([]float64{c.tub, 0.055}), xray))
		near(t, "tuberculosis", m[0], c.wantTub, 1e-4)
		near(t, "lung cancer", m[1], c.wantLung, 1e-4)
	}
	prior := s.Prior([]float64{0.0104, 0.055})
	evidence := 0.0
	for i := range prior {
		evidence += math.Exp(prior[i] + xray[i])
	}
	near(t, "X-ray", evidence, 0.1103, 5e-5)
}

func drawRow(t *rapid.T, states int) []float64 {
	row := make([]float64, states)
	sum := 0.0
	for i := range row {
		row[i] = rapid.Float64Range(0.01, 1).Draw(t, "p")
		sum += row[i]
	}
	for i := range row {
		row[i] /= sum
	}
	return row
}

// Against brute force: causes as independent switches, each switch's own state
// drawn out in full, the worst state seen. Every combination is enumerated.
func TestAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "causes")
		s := NewSpace(n)
		prior := make([]float64, n)
		for c := range prior {
			prior[c] = rapid.Float64Range(0.001, 0.6).Draw(t, "prior")
		}
		want := map[int]float64{} // set of causes as bits: weight
		for set := range 1 << n {
			if ones(set) <= 2 {
				want[set] = weigh(prior, set)
			}
		}
		var logs [][]float64
		for range rapid.IntRange(1, 3).Draw(t, "effects") {
			states := rapid.IntRange(2, 4).Draw(t, "states")
			none, alone := drawRow(t, states), make([][]float64, n)
			for c := range alone {
				if rapid.Bool().Draw(t, "row") {
					alone[c] = drawRow(t, states)
				}
			}
			seen := rapid.IntRange(0, states-1).Draw(t, "seen")
			logs = append(logs, s.Log(NewEffect(none, alone), One(states, seen)))
			for set := range want {
				want[set] *= enumerate(none, alone, set, seen)
			}
		}
		sum := 0.0
		for _, w := range want {
			sum += w
		}
		got := s.Posterior(s.Prior(prior), logs...)
		for i, h := range s.All {
			if w := want[bits(h)] / sum; math.Abs(got[i]-w) > 1e-9 {
				t.Fatalf("%v: %v, enumerated %v", h, got[i], w)
			}
		}
	})
}

func ones(set int) (n int) {
	for ; set > 0; set &= set - 1 {
		n++
	}
	return n
}

func weigh(prior []float64, set int) float64 {
	w := 1.0
	for c, p := range prior {
		if set>>c&1 == 1 {
			w *= p
		} else {
			w *= 1 - p
		}
	}
	return w
}

func bits(h Hypothesis) (set int) {
	for _, c := range [2]int{h.A, h.B} {
		if c != Nobody {
			set |= 1 << c
		}
	}
	return set
}

// enumerate sums over every combination of the states to which the leak and
// each present cause lead; the worst of them must be the one seen.
func enumerate(none []float64, alone [][]float64, set, seen int) float64 {
	rows := [][]float64{none}
	for c, row := range alone {
		if set>>c&1 == 1 && row != nil {
			rows = append(rows, row)
		}
	}
	var walk func(i, worst int, p float64) float64
	walk = func(i, worst int, p float64) float64 {
		if i == len(rows) {
			if worst == seen {
				return p
			}
			return 0
		}
		sum := 0.0
		for state, q := range rows[i] {
			sum += walk(i+1, max(worst, state), p*q)
		}
		return sum
	}
	return walk(0, 0, 1)
}

// Information is the entropy before less the expected entropy after.
func TestInformationIsEntropyLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "causes")
		s := NewSpace(n)
		prior := make([]float64, n)
		alone := make([][]float64, n)
		for c := range prior {
			prior[c], alone[c] = rapid.Float64Range(0.01, 0.5).Draw(t, "prior"), drawRow(t, 3)
		}
		e := NewEffect(drawRow(t, 3), alone)
		logs := s.Prior(prior)
		p := s.Posterior(logs)
		want := entropy(p)
		for state := range 3 {
			chance := 0.0
			for i, h := range s.All {
				chance += p[i] * e.Chance(h, state)
			}
			want -= chance * entropy(s.Posterior(logs, s.Log(e, One(3, state))))
		}
		if got := s.Prospects(e).Information(p); math.Abs(got-want) > 1e-6 {
			t.Fatalf("%v bits, want %v", got, want)
		}
	})
}

func entropy(p []float64) (bits float64) {
	for _, v := range p {
		if v > 0 {
			bits -= v * math.Log2(v)
		}
	}
	return bits
}

// An alarm without details weighs as the two-state effect it is, and its blame
// is shared out whole.
func TestTriggerIsNoisyOr(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "causes")
		s := NewSpace(n)
		trigger := Trigger{Chance: make([]float64, n+1), Detail: make([]float64, n+1)}
		alone, prior := make([][]float64, n), make([]float64, n)
		for c := range trigger.Chance {
			q := rapid.Float64Range(0.01, 0.95).Draw(t, "chance")
			trigger.Chance[c], trigger.Detail[c] = q, 1
			if c < n {
				alone[c], prior[c] = []float64{1 - q, q}, rapid.Float64Range(0.01, 0.5).Draw(t, "prior")
			}
		}
		leak := trigger.Chance[n]
		want := s.Log(NewEffect([]float64{1 - leak, leak}, alone), One(2, 1))
		got := s.Raised(trigger)
		for i := range got {
			if math.Abs(got[i]-want[i]) > 1e-9 {
				t.Fatalf("%v: %v, want %v", s.All[i], got[i], want[i])
			}
		}
		sum := 0.0
		for _, b := range s.Blame(trigger, s.Posterior(s.Prior(prior), got)) {
			sum += b
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("blame sums to %v", sum)
		}
	})
}

// Numbers against the sum written out: a slight and a bad state of each cause,
// every combination enumerated, a number that both move taken as either's.
func TestMeasuredIsTheSumOverSeverities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, keys := rapid.IntRange(1, 4).Draw(t, "causes"), rapid.IntRange(1, 3).Draw(t, "numbers")
		density := rapid.Float64Range(0.01, 3)
		x := Numbers{None: make([]float64, keys), Alone: make([][][]float64, n)}
		for k := range x.None {
			x.None[k] = density.Draw(t, "none")
		}
		for c := range x.Alone {
			if !rapid.Bool().Draw(t, "moves any") {
				continue
			}
			x.Alone[c] = [][]float64{make([]float64, keys), make([]float64, keys)}
			for k := range keys {
				moves := rapid.Bool().Draw(t, "moves")
				for level := range x.Alone[c] {
					if x.Alone[c][level][k] = math.NaN(); moves {
						x.Alone[c][level][k] = density.Draw(t, "own")
					}
				}
			}
		}
		s := NewSpace(n)
		for i, got := range s.Measured(x) {
			if want := math.Log(enumerateNumbers(x, s.All[i])); math.Abs(got-want) > 1e-9 {
				t.Fatalf("%v: %v, enumerated %v", s.All[i], got, want)
			}
		}
	})
}

// enumerateNumbers sums over the severities of both causes, whether or not they
// move anything.
func enumerateNumbers(x Numbers, h Hypothesis) float64 {
	sum := 0.0
	for _, a := range [2]int{0, 1} {
		for _, b := range [2]int{0, 1} {
			p := 1.0
			for k, none := range x.None {
				var moved []float64
				for _, m := range [2][2]int{{h.A, a}, {h.B, b}} {
					if m[0] != Nobody && x.Alone[m[0]] != nil && !math.IsNaN(x.Alone[m[0]][m[1]][k]) {
						moved = append(moved, x.Alone[m[0]][m[1]][k])
					}
				}
				switch len(moved) {
				case 0:
					p *= none
				case 1:
					p *= moved[0]
				default:
					p *= (moved[0] + moved[1]) / 2
				}
			}
			sum += p / 4
		}
	}
	return sum
}
