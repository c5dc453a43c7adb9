package web

import (
	"context"
	"strings"
	"time"

	"brinebell/detect"
)

// heardWithin is how far back a signal must have spoken to count as there.
const heardWithin = 48 * time.Hour

// heardFresh is how long what was heard may be taken for what is heard.
const heardFresh = time.Minute

// heardAt is what a home's sensors sent lately, as read once.
type heardAt struct {
	there map[detect.Signal]bool
	read  time.Time
}

// heard lists the signals that the home's sensors sent lately; a pipe's flow
// also when only its total was sent.
func (s *Server) heard(ctx context.Context, home string, now time.Time) map[detect.Signal]bool {
	if kept, ok := s.spans.Load(home); ok && time.Since(kept.(heardAt).read) < heardFresh {
		return kept.(heardAt).there
	}
	there := s.listen(ctx, home, now)
	if there != nil {
		s.spans.Store(home, heardAt{there, time.Now()})
	}
	return there
}

func (s *Server) listen(ctx context.Context, home string, now time.Time) map[detect.Signal]bool {
	there := make(map[detect.Signal]bool)
	for signal := range detect.NumSignals {
		points, err := s.Source.Points(ctx, home, signal, now.Add(-heardWithin), now.Add(time.Second), 1)
		if err != nil {
			s.Logger.Error("signals not listed", "home", home, "signal", signal, "error", err)
			return nil
		}
		if len(points) == 0 {
			continue
		}
		there[signal] = true
		if pipe, ok := signal.FlowPoint(); ok {
			there[pipe] = true
		}
	}
	return there
}

// blindSpots says what the home's sensors cannot show, so that no alert is not
// taken for no fault. It says nothing when the signals are not known.
func (r reader) blindSpots(h detect.Home, there map[detect.Signal]bool) []string {
	if there == nil {
		return nil
	}
	var out []string
	missing := func(key string, signals ...detect.Signal) {
		for _, s := range signals {
			if there[s] {
				return
			}
		}
		out = append(out, r.Say(key))
	}
	missing("blind.water", detect.InletFlow, detect.ServiceFlow)
	if there[detect.ServiceFlow] && !there[detect.InletFlow] {
		out = append(out, r.Say("blind.main", "taps", bypassed(h)))
	}
	out = append(out, r.tooSmall(h, there)...)
	missing("blind.drain", detect.DrainFlow)
	missing("blind.brine", detect.BrineLevel)
	missing("blind.salt", detect.SaltLevel)
	missing("blind.hardness", detect.ColdHardness, detect.HotHardness, detect.SoftConductivity)
	if !there[detect.InletPressure] || !there[detect.OutletPressure] {
		out = append(out, r.Say("blind.pressure"))
	}
	missing("blind.power", detect.ValvePower)
	missing("blind.floor", detect.FloorWet)
	return out
}

func bypassed(h detect.Home) string {
	if len(h.Bypassed) == 0 {
		return ""
	}
	return " (" + strings.Join(h.Bypassed, ", ") + ")"
}

// tooSmall says below which flow each meter stands still.
func (r reader) tooSmall(h detect.Home, there map[detect.Signal]bool) []string {
	var out []string
	for _, p := range []detect.Signal{detect.InletFlow, detect.ServiceFlow, detect.DrainFlow} {
		if m := h.Meters.At(p); there[p] && m != nil && m.StartingFlow > 0 {
			out = append(out, r.Say("blind.small", "flow", r.amount(m.StartingFlow, detect.FlowRate),
				"hour", r.amount(m.StartingFlow*60, detect.Volume), "meter", r.Say("meter."+p.String())))
		}
	}
	return out
}
