package web

import (
	"context"
	"strings"
	"time"

	"brinebell/detect"
)

// heardWithin is how far back a signal must have spoken to count as there.
const heardWithin = 48 * time.Hour

// heard lists the signals that the home's sensors sent lately; a pipe's flow
// also when only its total was sent.
func (s *Server) heard(ctx context.Context, home string, now time.Time) map[detect.Signal]bool {
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
func blindSpots(h detect.Home, there map[detect.Signal]bool) []string {
	if there == nil {
		return nil
	}
	var out []string
	missing := func(sentence string, signals ...detect.Signal) {
		for _, s := range signals {
			if there[s] {
				return
			}
		}
		out = append(out, sentence)
	}
	missing("Leaks and water use: no meter on the main or at the softener has spoken lately.", detect.InletFlow, detect.ServiceFlow)
	if there[detect.ServiceFlow] && !there[detect.InletFlow] {
		out = append(out, "Water at taps that are fed before the softener"+bypassed(h)+": only the softener has a meter.")
	}
	out = append(out, readerOf(h).tooSmall(h, there)...)
	missing("Water running to the drain, and how much a regeneration uses: no meter on the drain line.", detect.DrainFlow)
	missing("How much brine a regeneration draws, and whether the tank refills: no level sensor in the brine well.", detect.BrineLevel)
	missing("How much salt is left: no sensor above the salt. Look into the tank every few weeks.", detect.SaltLevel)
	missing("Whether the water is soft: no hardness is measured. A test strip at a cold tap tells.", detect.ColdHardness, detect.HotHardness, detect.SoftConductivity)
	if !there[detect.InletPressure] || !there[detect.OutletPressure] {
		out = append(out, "A resin bed that slowly clogs: it takes a pressure sensor before and after the softener.")
	}
	missing("Whether the control valve has power: no power sensor at its socket.", detect.ValvePower)
	missing("Water on the floor: no floor sensor.", detect.FloorWet)
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
	for _, p := range []struct {
		signal detect.Signal
		name   string
	}{{detect.InletFlow, "main"}, {detect.ServiceFlow, "softener"}, {detect.DrainFlow, "drain line"}} {
		if m := h.Meters.At(p.signal); there[p.signal] && m != nil && m.StartingFlow > 0 {
			out = append(out, "A flow below "+r.amount(m.StartingFlow, detect.FlowRate)+" ("+
				r.amount(m.StartingFlow*60, detect.Volume)+" an hour) at the "+p.name+": its meter stands still.")
		}
	}
	return out
}
