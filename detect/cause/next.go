package cause

import (
	"math"

	"brinebell/detect"
)

// Next is the check to make next, and what each answer would mean.
type Next struct {
	Check    *Check
	Bits     float64 // expected information
	Outcomes []Prospect
}

// Prospect is one possible answer: how likely it is, and what would then be
// thought.
type Prospect struct {
	Outcome
	Chance float64
	Then   []detect.CauseShare // the likeliest causes after it
}

const (
	// fewBits is what a check must be expected to tell to be worth proposing.
	fewBits = 0.01
	// between is the time between two checks, in minutes: to understand what is
	// asked, to walk there, to answer. Common practice, no source.
	between = 4.0
	// scarce is what a place among all checks that people have patience for is
	// worth, in minutes. Common practice, no source.
	scarce = 40.0
	// prospects is how many causes are told of each answer.
	prospects = 2
)

// plan is what a session lets be asked.
type plan struct {
	skipped map[string]bool
	left    int // checks before patience ends, this one among them
}

// cost is the minutes that a check costs: of hands, of what lies between two
// checks, and of the place it takes from the others. Who has seven checks left can
// look at what is easy first; with the last one the easy look is dear when it tells
// little.
func (l plan) cost(c *Check) float64 { return c.Minutes + between + scarce/float64(max(1, l.left)) }

// next picks the check that is expected to tell most per minute.
func (m *Model) next(p []float64, e Evidence, who Who, how plan) *Next {
	var best *Next
	rate := 0.0
	for _, c := range m.checks {
		if how.skipped[c.ID] || !open(c, e, who) {
			continue
		}
		bits := c.outlook.Information(p)
		if r := bits / how.cost(c); bits >= fewBits && r > rate {
			best, rate = &Next{Check: c, Bits: bits}, r
		}
	}
	if best != nil {
		best.Outcomes = m.prospects(best.Check, p)
	}
	return best
}

// open says whether the check was not made yet and who can make it.
func open(c *Check, e Evidence, who Who) bool {
	if _, done := e.Checks[c.ID]; done || c.Who == Technician && who != Technician {
		return false
	}
	for _, s := range c.replaces {
		if _, measured := e.Hardness[s]; measured {
			return false
		}
	}
	return true
}

func (m *Model) prospects(c *Check, p []float64) []Prospect {
	logs := make([]float64, len(p))
	for h, v := range p {
		logs[h] = math.Log(math.Max(v, 1e-300))
	}
	all := make([]Prospect, len(c.Outcomes))
	for i, o := range c.Outcomes {
		all[i].Outcome = o
		for h, v := range p {
			all[i].Chance += v * c.effect.Chance(m.space.All[h], i)
		}
		after := m.space.Posterior(logs, c.outlook.Log(i))
		ranked := m.rank(m.space.Marginals(after))
		all[i].Then = ranked[:min(prospects, len(ranked))]
	}
	return all
}
