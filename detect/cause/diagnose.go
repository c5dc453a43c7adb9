package cause

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"brinebell/detect"
)

// Diagnosis is what the evidence says.
type Diagnosis struct {
	None   float64  // probability that none of the causes is there
	Causes []Ranked // most likely first, those above least
	Next   *Next    // the check that tells most per minute; nil when none tells anything
}

// Ranked is one cause with its probability of being there, alone or with a
// second one: with two causes the probabilities may sum to more than 1.
type Ranked struct {
	Cause       detect.Cause
	Probability float64
	For         []Weight // what weighs most for it, heaviest first
	Against     []Weight
}

// Shares are the ranked causes with their probabilities alone.
func (d Diagnosis) Shares() []detect.CauseShare {
	shares := make([]detect.CauseShare, len(d.Causes))
	for i, c := range d.Causes {
		shares[i] = detect.CauseShare{Cause: c.Cause, Probability: c.Probability}
	}
	return shares
}

// Weight is how a piece of evidence bears on a cause, given all the rest.
type Weight struct {
	Says  string  `json:"evidence"`
	Ratio float64 `json:"ratio"` // likelihood with the cause over that without it
}

// String says the weight in words with its number.
func (w Weight) String() string {
	if w.Ratio >= 1 {
		return fmt.Sprintf("%s: %s times as likely with this cause as without", w.Says, figures(w.Ratio))
	}
	return fmt.Sprintf("%s: %s times less likely with this cause than without", w.Says, figures(1/w.Ratio))
}

func figures(v float64) string {
	switch {
	case v >= mostRatio:
		return fmt.Sprintf("more than %d", mostRatio)
	case v >= 10:
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.1f", v)
}

const (
	// least is the smallest probability that is told.
	least = 0.01
	// told is how many pieces of evidence are told for and against a cause.
	told = 3
	// tellRatio is the least ratio worth telling.
	tellRatio = 1.2
	// mostRatio is beyond what a table written by people can claim.
	mostRatio = 1000
)

// Diagnose ranks the causes and finds the next check for who is asked.
func (m *Model) Diagnose(e Evidence, who Who) Diagnosis {
	return m.explained(m.diagnose(e, who, plan{left: mostChecks}))
}

// diagnose ranks the causes, with the evidence that it went by and without a word
// about it.
func (m *Model) diagnose(e Evidence, who Who, how plan) (Diagnosis, []piece) {
	pieces := m.pieces(e)
	p := m.posterior(pieces)
	d := Diagnosis{None: p[0], Next: m.next(p, e, who, how)}
	for c, probability := range m.space.Marginals(p) {
		if probability >= least {
			d.Causes = append(d.Causes, Ranked{Cause: m.names[c], Probability: probability})
		}
	}
	sort.SliceStable(d.Causes, func(i, j int) bool { return d.Causes[i].Probability > d.Causes[j].Probability })
	return d, pieces
}

// explained is the diagnosis with what speaks for and against each cause.
func (m *Model) explained(d Diagnosis, pieces []piece) Diagnosis {
	without := m.withoutEach(pieces)
	for i := range d.Causes {
		r := &d.Causes[i]
		r.For, r.Against = weigh(slices.Index(m.names, r.Cause), r.Probability, pieces, without)
	}
	return d
}

func (m *Model) posterior(pieces []piece) []float64 {
	var logs [][]float64
	for _, p := range pieces {
		if !p.part {
			logs = append(logs, p.logs)
		}
	}
	return m.space.Posterior(m.prior, logs...)
}

// withoutEach is every cause's probability with one piece of evidence left out,
// piece by piece.
func (m *Model) withoutEach(pieces []piece) [][]float64 {
	total := make([]float64, len(m.prior))
	for _, p := range pieces {
		if p.part {
			continue
		}
		for h, v := range p.logs {
			total[h] += v
		}
	}
	without := make([][]float64, len(pieces))
	rest := make([]float64, len(total))
	for i, p := range pieces {
		for h := range rest {
			rest[h] = total[h] - p.logs[h]
		}
		without[i] = m.space.Marginals(m.space.Posterior(m.prior, rest))
	}
	return without
}

// weigh compares the odds of a cause with and without each piece: their quotient
// is the likelihood ratio of the piece given all the rest.
func weigh(c int, probability float64, pieces []piece, without [][]float64) (speaksFor, against []Weight) {
	for i, p := range pieces {
		w := Weight{p.says, odds(probability) / odds(without[i][c])}
		switch {
		case p.says == "": // told by its parts
		case w.Ratio >= tellRatio:
			speaksFor = append(speaksFor, w)
		case w.Ratio <= 1/tellRatio:
			against = append(against, w)
		}
	}
	sort.SliceStable(speaksFor, func(i, j int) bool { return speaksFor[i].Ratio > speaksFor[j].Ratio })
	sort.SliceStable(against, func(i, j int) bool { return against[i].Ratio < against[j].Ratio })
	return speaksFor[:min(told, len(speaksFor))], against[:min(told, len(against))]
}

func odds(p float64) float64 {
	p = math.Min(p, 1-1e-12)
	return math.Max(p, 1e-300) / (1 - p)
}
