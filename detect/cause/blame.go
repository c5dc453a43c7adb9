package cause

import (
	"sort"

	"brinebell/detect"
)

// Blame ranks what raised the finding of this kind, all evidence of the home
// weighed jointly. The shares and the chance of a false alarm, which is not
// listed, sum to 1 but for causes below one in a hundred, which are left out.
// It is nil when no such finding is in the evidence.
func (m *Model) Blame(kind detect.Kind, e Evidence) []detect.CauseShare {
	row := m.finding(kind)
	if row == nil {
		return nil
	}
	for _, f := range e.Findings {
		if f.Kind == kind {
			return m.rank(m.space.Blame(row.trigger(f.Details), m.jointly(e)))
		}
	}
	return nil
}

func (m *Model) rank(blame []float64) []detect.CauseShare {
	var told []detect.CauseShare
	for c, name := range m.names {
		if blame[c] >= least {
			told = append(told, detect.CauseShare{Cause: name, Probability: blame[c]})
		}
	}
	sort.SliceStable(told, func(i, j int) bool { return told[i].Probability > told[j].Probability })
	return told
}

// jointly is the posterior without the words: the engine's way. The silence of
// all detectors adds up by cause before the hypotheses are gone through.
func (m *Model) jointly(e Evidence) []float64 {
	silent := make([]float64, len(m.names))
	for _, k := range e.Visible {
		if row := m.finding(k); row != nil && !e.Has(k) {
			_, each := m.silence(row, e.Age.Hours()/24)
			for c, v := range each {
				silent[c] += v
			}
		}
	}
	logs := [][]float64{m.space.Sum(0, silent)}
	for _, f := range e.Findings {
		if row := m.finding(f.Kind); row != nil {
			logs = append(logs, m.space.Raised(row.trigger(f.Details)))
		}
	}
	if each := m.standing(e.Age); each != nil {
		logs = append(logs, m.space.Sum(0, each))
	}
	if x, known := m.densities(e); len(known) > 0 {
		logs = append(logs, m.space.Measured(x))
	}
	rest := Evidence{Symptoms: e.Symptoms, Hardness: e.Hardness, SetFor: e.SetFor, Checks: e.Checks}
	for _, p := range m.pieces(rest) {
		logs = append(logs, p.logs)
	}
	return m.space.Posterior(m.prior, logs...)
}

// Rank orders the causes of one finding by what it says itself, with nothing
// else known of the home.
func Rank(kind detect.Kind, e detect.Evidence) []detect.CauseShare {
	return standard.Blame(kind, Evidence{Findings: []Finding{{kind, e}}})
}
