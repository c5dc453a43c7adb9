package cause

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"brinebell/detect"
	"brinebell/detect/cause/joint"
)

// watched is a home where something is wrong and its sensors found something:
// every visible kind is raised or not by the world's noisy or, with details drawn
// from the row of what raised it.
func watched(world *Model, visible []detect.Kind, r *rand.Rand) (joint.Hypothesis, Evidence) {
	weights := make([]float64, len(world.prior))
	for i, v := range world.prior {
		weights[i] = math.Exp(v)
	}
	weights[0] = 0
	for {
		h, e := world.space.All[draw(weights, r)], Evidence{Visible: visible}
		for _, f := range world.findings {
			if !slices.Contains(visible, f.kind) {
				continue
			}
			if c := f.raisedBy(h, r); c >= 0 {
				e.Findings = append(e.Findings, Finding{f.kind, f.drawDetails(c, r)})
			}
		}
		if len(e.Findings) > 0 {
			return h, e
		}
	}
}

// raisedBy is which of the hypothesis's causes raised it, the leak's number if
// none did, -1 if it was not raised.
func (f *findingRow) raisedBy(h joint.Hypothesis, r *rand.Rand) int {
	t := f.trigger(nil)
	chances, silent := make([]float64, len(t.Chance)), 1.0
	for c, p := range t.Chance {
		if c == len(t.Chance)-1 || h.Has(c) {
			chances[c] = p
			silent *= 1 - p
		}
	}
	if r.Float64() < silent {
		return -1
	}
	return draw(chances, r)
}

func (f *findingRow) drawDetails(c int, r *rand.Rand) detect.Evidence {
	e := detect.Evidence{}
	for _, d := range f.details {
		row := d.rows[c]
		if len(d.choices) > 0 {
			e[d.key] = d.choices[draw(row, r)]
		} else {
			e[d.key] = row[0] * math.Exp(math.Log(row[1])*r.NormFloat64())
		}
	}
	return e
}

// bins counts how often probabilities were right.
type bins struct{ given, right, n [10]float64 }

func (b *bins) add(p float64, right bool) {
	i := min(int(p*10), 9)
	b.given[i] += p
	b.n[i]++
	if right {
		b.right[i]++
	}
}

// off is the expected calibration error: the gap between probabilities given
// and shares right, averaged over all that was told.
func (b *bins) off(t *testing.T) float64 {
	off, all := 0.0, 0.0
	for i, n := range b.n {
		if n > 0 {
			t.Logf("given %.2f: right %.2f of %.0f", b.given[i]/n, b.right[i]/n, n)
			off += math.Abs(b.given[i] - b.right[i])
			all += n
		}
	}
	return off / all
}

// Probabilities are honest: of the causes given some probability about that many
// are right, in worlds where every rate and chance of the table is off.
func TestCalibration(t *testing.T) {
	m := Standard()
	few := m.Visible(func(s detect.Signal) bool { return s == detect.InletFlow || s == detect.BrineLevel })
	for _, home := range []struct {
		name  string
		calls int
		draw  func(*Model, *rand.Rand) (joint.Hypothesis, Evidence)
		first float64 // least share of homes whose first cause is right
	}{
		{"symptoms alone", 3000, call, 0.35},
		{"all sensors", 2000, func(w *Model, r *rand.Rand) (joint.Hypothesis, Evidence) { return watched(w, detect.Kinds(), r) }, 0.75},
		{"flow and level", 2000, func(w *Model, r *rand.Rand) (joint.Hypothesis, Evidence) { return watched(w, few, r) }, 0.6},
	} {
		r := rand.New(rand.NewPCG(6, uint64(home.calls)))
		var told bins
		var first, third int
		world := m
		for i := range home.calls {
			if i%20 == 0 {
				world = perturbed(m, 0.5, r)
			}
			h, e := home.draw(world, r)
			p := m.jointly(e)
			marginals := m.space.Marginals(p)
			for c, p := range marginals {
				if p >= 0.05 {
					told.add(p, h.Has(c))
				}
			}
			for rank, c := range m.rank(marginals)[:min(3, len(m.rank(marginals)))] {
				if h.Has(slices.Index(m.names, c.Cause)) {
					third++
					if rank == 0 {
						first++
					}
					break
				}
			}
		}
		off := told.off(t)
		share := float64(first) / float64(home.calls)
		t.Logf("%s: expected calibration error %.3f; first right %.3f, in the first three %.3f", home.name, off, share, float64(third)/float64(home.calls))
		if off > 0.05 || share < home.first {
			t.Errorf("%s: calibration error %.3f, first right %.3f", home.name, off, share)
		}
	}
}
