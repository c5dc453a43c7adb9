package cause

import (
	"maps"
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
			e.Findings[0].Details = withNumbers(e.Findings[0].Details, world.drawNumbers(h, slices.Contains(visible, detect.DrainRunning), r))
			return h, e
		}
	}
}

func withNumbers(e, numbers detect.Evidence) detect.Evidence {
	maps.Copy(e, numbers)
	return e
}

// byDrain are the numbers that need a meter at the drain or a probe.
var byDrain = []string{"nozzle_pace_share", "backwash_share", "drain_share", "softest_share", "hardest_share", "raw_change_share",
	"salt_sunk_share", "salt_high_share", "cold_share", "patchy_share", "drain_share_seen"}

// drawNumbers measures what the hypothesis moves: each of its causes in a severity
// of its own, and now and then a number that comes from anything.
func (m *Model) drawNumbers(h joint.Hypothesis, all bool, r *rand.Rand) detect.Evidence {
	e, level := detect.Evidence{}, map[int]int{}
	for _, n := range m.measured {
		if !all && slices.Contains(byDrain, n.key) || n.unless != "" && e[n.unless] != nil {
			continue
		}
		median, factor := n.usual[0], n.usual[1]
		var rows [][2]float64
		for _, c := range [2]int{h.A, h.B} {
			if c == joint.Nobody || n.rows[c] == nil {
				continue
			}
			if _, drawn := level[c]; !drawn {
				level[c] = r.IntN(m.levels[c])
			}
			rows = append(rows, [2]float64{n.rows[c][level[c]], n.factor(n.rows[c], level[c])})
		}
		if len(rows) > 0 {
			one := rows[r.IntN(len(rows))]
			median, factor = one[0], one[1]
		}
		if r.Float64() < n.doubt {
			median, factor = n.usual[0], anyFactor
		}
		e[n.key] = median * math.Exp(math.Log(factor)*r.NormFloat64())
	}
	return e
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
