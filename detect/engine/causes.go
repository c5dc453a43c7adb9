package engine

import (
	"maps"
	"math"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/cause"
	"brinebell/detect/cause/trait"
)

// shareMoved is by how much a share must move for an alert to be told anew only
// because another finding opened or changed.
const shareMoved = 0.05

// blame ranks the causes of an open alert from all that is or was open at the
// home while it stood. What the home's sensors would have shown by now and did not
// counts too.
func (h *home) blame(a detect.Alert) []detect.CauseShare {
	e := cause.Evidence{Age: h.view.Now.Sub(a.Onset), Visible: cause.Standard().Visible(h.sees)}
	for _, k := range detect.Kinds() { // in order, as sums depend on it in the last place
		b, ok := h.state.Open[k]
		if !ok {
			b, ok = h.state.Closed[k]
			ok = ok && b.Cleared.After(a.Raised)
		}
		if ok {
			e.Findings = append(e.Findings, cause.Finding{Kind: k, Details: b.Evidence})
		}
	}
	if raw := h.state.Ledger.Hardness; raw == raw {
		e.Hardness = map[detect.Signal]float64{detect.RawHardness: raw}
	}
	return cause.Standard().Blame(a.Kind, e.WithProfile(h.profile.Water))
}

// close keeps an alert that has cleared for as long as others stand that it stood
// beside: one repair ends them one after the other.
func (h *home) close(a detect.Alert) {
	delete(h.state.Open, a.Kind)
	if len(h.state.Open) == 0 {
		h.state.Closed = nil
		return
	}
	if h.state.Closed == nil {
		h.state.Closed = map[detect.Kind]detect.Alert{}
	}
	h.state.Closed[a.Kind] = a
}

// ofCycles are the kinds that tell of regenerations, of what they leave behind or
// of a softener that has none: what the last ones were like belongs to them.
var ofCycles = []detect.Kind{detect.SaltDrawLow, detect.SaltDrawHigh, detect.SaltUseHigh, detect.SaltUseLow, detect.SaltLow,
	detect.SaltBridgeKind, detect.BrineHigh, detect.RegenerationStuck, detect.RegenerationMissed, detect.RegenerationFrequent,
	detect.RinseShort, detect.PressureLoss, detect.HardWater, detect.CapacityShort, detect.FloorWetKind, detect.Unusual}

// compare takes a finished regeneration into what is usual here. An open finding
// keeps it from becoming so.
func (h *home) compare() {
	cold, _ := h.minute.Get(detect.ColdHardness)
	h.state.Traits.Run.Hear(cold, h.state.Ledger.RawHardness(), h.view.Regenerating)
	if r := h.view.Record; r != nil {
		h.state.Traits.Regeneration(&h.profile, r, h.view.Entry, trait.Readings{SaltTop: h.saltTop(), Raw: h.state.Ledger.Hardness}, len(h.state.Open) == 0)
	}
}

// saltTop is the height of the salt, mm, NaN without a sensor that speaks.
func (h *home) saltTop() float64 {
	s := &h.state.Ledger.Salt
	if s.TopAt == 0 || h.minute.Start.Unix()-s.TopAt > int64(24*time.Hour/time.Second) {
		return math.NaN()
	}
	return s.Top
}

// withTraits is a finding's evidence with what the last regenerations were like,
// if there was one since its onset. What the detector says itself stands, and so
// does what was told before when the last regeneration was more like the usual: a
// home that has been repaired says nothing of what was wrong.
func (h *home) withTraits(a detect.Alert, e detect.Evidence) detect.Evidence {
	if !slices.Contains(ofCycles, a.Kind) {
		return e
	}
	now := h.state.Traits.Since(h.onset(a))
	if trait.Distance(now) < trait.Distance(a.Evidence)/2 {
		now = trait.Of(a.Evidence)
	}
	all := detect.Evidence{} // the alert as it was told keeps its own
	maps.Copy(all, e)
	for key, v := range now {
		if _, own := e[key]; !own {
			all[key] = v
		}
	}
	return all
}

// onset is when the alert's trouble began: with it, or with another that stands and
// tells of regenerations too.
func (h *home) onset(a detect.Alert) time.Time {
	first := a.Onset
	for _, k := range ofCycles {
		if open, ok := h.state.Open[k]; ok && open.Onset.Before(first) {
			first = open.Onset
		}
	}
	return first
}

// refresh brings open alerts up to date with a regeneration that has finished:
// their evidence, and the causes ranked by it.
func (h *home) refresh() {
	if h.view.Record == nil {
		if h.minute.Start.Unix()%daily == 0 && len(h.state.Open) > 0 {
			h.reconsider("") // what stands on, and what is still not found, speaks too
		}
		return
	}
	for _, k := range detect.Kinds() {
		if a, ok := h.state.Open[k]; ok {
			a.Evidence = h.withTraits(a, trait.Without(a.Evidence))
			h.state.Open[k] = a
		}
	}
	for _, k := range detect.Kinds() {
		if a, ok := h.state.Open[k]; ok {
			a.Causes = h.blame(a)
			h.state.Open[k] = a
			h.engine.changed(a)
		}
	}
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

// daily is after how many seconds open alerts are ranked anew with nothing new found.
const daily = 24 * 60 * 60

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
