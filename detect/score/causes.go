package score

import (
	"cmp"
	"slices"

	"brinebell/detect"
)

// Causes says how well the right cause was named over all faults, not per fault:
// faults that no sensor tells apart are as many as they are.
type Causes struct {
	Found      int   `json:"found"`
	First      Share `json:"first"`       // of the found, the fault ranked first by the alert that found it
	FirstThree Share `json:"first_three"` // among the first three
	Pairs      int   `json:"pairs"`       // of faults that overlapped at a home and were both found
	Both       Share `json:"pairs_both"`  // of them, both faults among the home's first pairDepth
}

// pairDepth is among how many causes of a home both of two faults should be.
const pairDepth = 4

// causesOf adds up the faults that were found; both counts homes' pairs.
func causesOf(episodes []Judged, pairs, both int) Causes {
	found, first, three := 0, 0, 0
	for _, j := range episodes {
		if j.Outcome != Found {
			continue
		}
		found++
		if j.Rank == 1 {
			first++
		}
		if j.Rank >= 1 && j.Rank <= 3 {
			three++
		}
	}
	return Causes{found, Exact(first, found), Exact(three, found), pairs, Exact(both, pairs)}
}

// pairs counts the pairs of found episodes that overlap, and those with both
// faults among the first causes of the alerts that stood meanwhile. A home's
// causes are ranked by the largest probability that any of these alerts gives.
func (m *matcher) pairs(judged []Judged) (pairs, both int) {
	for i, a := range judged {
		for _, b := range judged[i+1:] {
			if a.Outcome != Found || b.Outcome != Found || a.End.Before(b.Start) || b.End.Before(a.Start) || a.Fault == b.Fault {
				continue
			}
			pairs++
			if first := m.first(a, b); slices.Contains(first, a.Fault) && slices.Contains(first, b.Fault) {
				both++
			}
		}
	}
	return pairs, both
}

// first is the causes that stood first while both episodes were at work.
func (m *matcher) first(a, b Judged) []detect.Cause {
	from, until := a.Start, a.End
	if b.Start.After(from) {
		from = b.Start
	}
	if b.End.Before(until) {
		until = b.End
	}
	best := map[detect.Cause]float64{}
	for _, x := range m.alerts {
		if x.Raised.After(until) || !x.Open() && x.Cleared.Before(from) {
			continue
		}
		for _, c := range x.Causes {
			best[c.Cause] = max(best[c.Cause], c.Probability)
		}
	}
	var all []detect.Cause
	for _, c := range detect.Causes() {
		if best[c] > 0 {
			all = append(all, c)
		}
	}
	slices.SortStableFunc(all, func(x, y detect.Cause) int { return cmp.Compare(best[y], best[x]) })
	return all[:min(pairDepth, len(all))]
}

func (w *printer) causes(c Causes) {
	if c.Found == 0 {
		return
	}
	w.f("Right cause first: %s; in the first three: %s\n", percents(c.First), percents(c.FirstThree))
	if c.Pairs > 0 {
		w.f("Of %d pairs found, both causes among the home's first %d: %s\n", c.Pairs, pairDepth, percents(c.Both))
	}
}
