package score

import (
	"math"
	"slices"

	"brinebell/detect"
)

// Sureness says whether the probabilities of causes are honest: of the causes
// given 70 %, about 70 % should be right. A cause is right when an episode of
// it was at work, from its onset to its aftermath, when the alert was raised, or when it came true while
// the alert that foretold it still stood; a false alarm's causes are all wrong.
type Sureness struct {
	Of    string `json:"of"` // "first cause" of each alert, or "every cause"
	Count int    `json:"count"`
	// Error is the expected calibration error: the mean distance between the
	// probability given and the share that was right, over bins, weighted by how
	// many fell into each (Naeini, Cooper and Hauskrecht 2015).
	Error float64 `json:"expected_calibration_error"`
	// Brier is the mean squared distance between probability and truth (Brier
	// 1950).
	Brier float64 `json:"brier"`
	Bins  []Bin   `json:"bins"` // those that anything fell into
}

// Bin is the causes whose probability lay between From and To.
type Bin struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Count int     `json:"count"`
	Said  float64 `json:"said"` // mean probability
	Right Share   `json:"right"`
}

// bins is how many there are, of equal width.
const bins = 10

// share is one cause of one alert.
type share struct {
	p     float64
	right bool
	first bool
}

// shares appends what the home's alerts said of causes.
func (m *matcher) shares(episodes []Episode, all []share) []share {
	for _, a := range m.alerts {
		for i, c := range a.Causes {
			right := slices.ContainsFunc(episodes, func(e Episode) bool { return e.Fault == c.Cause && m.atWork(e, a) })
			all = append(all, share{c.Probability, right, i == 0})
		}
	}
	return all
}

func (m *matcher) atWork(e Episode, a detect.Alert) bool {
	return m.rules[e.Fault].foretells(e, a) || sinceOnset(e, a.Raised) && !a.Raised.After(e.End.Add(m.rules[e.Fault].Aftermath))
}

func firsts(all []share) []share {
	var first []share
	for _, s := range all {
		if s.first {
			first = append(first, s)
		}
	}
	return first
}

func surenessOf(of string, all []share) Sureness {
	s := Sureness{Of: of, Count: len(all)}
	var said [bins]float64
	var n, right [bins]int
	for _, x := range all {
		b := max(0, min(bins-1, int(x.p*bins)))
		said[b] += x.p
		n[b]++
		truth := 0.0
		if x.right {
			right[b]++
			truth = 1
		}
		s.Brier += (x.p - truth) * (x.p - truth) / float64(len(all))
	}
	for b := range n {
		if n[b] == 0 {
			continue
		}
		bin := Bin{float64(b) / bins, float64(b+1) / bins, n[b], said[b] / float64(n[b]), Exact(right[b], n[b])}
		s.Bins = append(s.Bins, bin)
		s.Error += math.Abs(bin.Said-bin.Right.Share) * float64(n[b]) / float64(len(all))
	}
	return s
}
