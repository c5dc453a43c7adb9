package score

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"brinebell/detect"
)

// blind says why an episode cannot be seen with the home's sensors, or nothing
// where it can.
func (m *matcher) blind(e Episode, rule Rule) string {
	if e.End.Sub(e.Start) < rule.Least {
		return fmt.Sprintf("shorter than %.0f days", rule.Least.Hours()/24)
	}
	if m.sight == nil {
		return ""
	}
	if why := m.sight.lacks(rule.Shows); why != "" {
		return why
	}
	return m.sight.tooSmall(e, m.flow)
}

// lacks says which signals are missing of every set that shows the cause.
func (s *Sight) lacks(shows [][]detect.Signal) string {
	if s.Signals == nil || len(shows) == 0 {
		return ""
	}
	var sets []string
	for _, set := range shows {
		if !slices.ContainsFunc(set, func(x detect.Signal) bool { return !s.has(x) }) {
			return ""
		}
		var names []string
		for _, x := range set {
			names = append(names, x.String())
		}
		sets = append(sets, strings.Join(names, " with "))
	}
	return "needs " + strings.Join(sets, ", or ")
}

// has takes the rate and the total of a pipe for the same.
func (s *Sight) has(x detect.Signal) bool {
	return slices.ContainsFunc(s.Signals, func(y detect.Signal) bool {
		point, pipe := y.FlowPoint()
		return x == y || pipe && x == point
	})
}

// tooSmall says that a leak is below the flow at which any meter before it
// begins to turn. A cistern refills at full flow however little it loses.
func (s *Sight) tooSmall(e Episode, leak func(detect.Cause, float64) float64) string {
	if leak == nil || e.Fault == detect.FlapperLeak {
		return ""
	}
	flow := leak(e.Fault, e.Severity)
	least := math.Inf(1)
	for _, meter := range []*detect.Meter{s.Profile.Meters.Inlet, s.Profile.Meters.Service} {
		if meter != nil {
			least = min(least, meter.StartingFlow)
		}
	}
	if flow <= 0 || math.IsInf(least, 1) || flow >= least {
		return ""
	}
	return fmt.Sprintf("below the %g L/min at which the meters begin to turn", least)
}
