package engine

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// shareMoved is by how much a share must move for an alert to be told anew only
// because another finding opened or changed.
const shareMoved = 0.05

// blame ranks the causes of an open alert from all that is open at the home.
// What the home's sensors would have shown by now and did not counts too.
func (h *home) blame(a detect.Alert) []detect.CauseShare {
	e := cause.Evidence{Age: h.view.Now.Sub(a.Onset), Visible: cause.Standard().Visible(h.sees)}
	for _, k := range detect.Kinds() { // in order, as sums depend on it in the last place
		if open, ok := h.state.Open[k]; ok {
			e.Findings = append(e.Findings, cause.Finding{Kind: k, Details: open.Evidence})
		}
	}
	return cause.Standard().Blame(a.Kind, e.WithProfile(h.profile.Water))
}

func (h *home) sees(s detect.Signal) bool {
	if point, flow := s.FlowPoint(); flow {
		return h.state.Assembler.HasFlow(point)
	}
	return h.state.Assembler.Has(s)
}

// reconsider ranks the causes of the other open alerts again.
func (h *home) reconsider(but detect.Kind) {
	for _, k := range detect.Kinds() {
		a, ok := h.state.Open[k]
		if !ok || k == but {
			continue
		}
		if now := h.blame(a); moved(a.Causes, now) {
			a.Causes = now
			h.state.Open[k] = a
			h.engine.changed(a)
		}
	}
}

// moved says whether two rankings would be told differently.
func moved(before, after []detect.CauseShare) bool {
	share := map[detect.Cause]float64{}
	for _, c := range before {
		share[c.Cause] = c.Probability
	}
	for _, c := range after {
		if math.Abs(c.Probability-share[c.Cause]) >= shareMoved {
			return true
		}
		delete(share, c.Cause)
	}
	for _, p := range share {
		if p >= shareMoved {
			return true
		}
	}
	return false
}
