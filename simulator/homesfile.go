package simulator

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// WriteHomes writes profiles in the form of a homes file, every quantity with
// its unit.
func WriteHomes(w io.Writer, homes []detect.Home) error {
	b := bufio.NewWriter(w)
	fmt.Fprintln(b, "homes:")
	for i := range homes {
		writeHome(b, &homes[i])
	}
	return b.Flush()
}

func num(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func writeHome(b *bufio.Writer, h *detect.Home) {
	fmt.Fprintf(b, "  - id: %s\n    name: %q\n    timezone: %s\n    units: %s\n    occupants: %s\n", h.ID, h.Name, h.Location, h.Units, num(h.Occupants))
	fmt.Fprintf(b, "    water: {hardness: %s mg/L, iron: %s mg/L, manganese: %s mg/L}\n", num(h.Water.Hardness), num(h.Water.Iron), num(h.Water.Manganese))
	writeSoftener(b, &h.Softener)
	t := h.BrineTank
	fmt.Fprintf(b, "    brine_tank: {diameter: %s mm, height: %s mm, grid: %s mm, float: %s mm, well: %s mm, salt_void: %s}\n",
		num(t.Diameter), num(t.Height), num(t.Grid), num(t.Float), num(t.Well), num(t.SaltVoid))
	writeMeters(b, h.Meters)
	if len(h.Bypassed) > 0 {
		fmt.Fprintf(b, "    bypassed: [%s]\n", strings.Join(h.Bypassed, ", "))
	}
	fmt.Fprintf(b, "    costs: {water: %s /m3, salt: %s /kg, currency: %s}\n", num(h.Costs.Water), num(h.Costs.Salt), h.Costs.Currency)
	writeAway(b, h)
}

func writeSoftener(b *bufio.Writer, s *detect.Softener) {
	fmt.Fprintf(b, "    softener:\n      resin: %s L\n      capacity: %s eq/L\n      salt_dose: %s kg\n      salt: %s\n      control: %s\n",
		num(s.Resin), num(s.Capacity), num(s.SaltDose), s.Salt, s.Control)
	at := s.RegenerationTime
	refill, tanks := "after", "single"
	if s.RefillBefore {
		refill = "before"
	}
	if s.Alternating {
		tanks = "alternating"
	}
	fmt.Fprintf(b, "      regeneration_time: \"%02d:%02d\"\n      days_override: %d\n      reserve: %s\n      refill: %s\n      tanks: %s\n      cycle:\n",
		int(at.Hours()), int(at.Minutes())%60, s.DaysOverride, num(s.Reserve), refill, tanks)
	for _, p := range s.Cycle {
		fmt.Fprintf(b, "        - {phase: %s, minutes: %s, flow: %s L/min}\n", p.Phase, num(p.Duration.Minutes()), num(p.Flow))
	}
}

func writeMeters(b *bufio.Writer, m detect.Meters) {
	if m.Inlet == nil && m.Service == nil && m.Drain == nil {
		return
	}
	fmt.Fprintln(b, "    meters:")
	write := func(name string, m *detect.Meter, position bool) {
		if m == nil {
			return
		}
		fmt.Fprintf(b, "      %s: {pulse: %s L, starting_flow: %s L/min", name, num(m.Pulse), num(m.StartingFlow))
		if position && m.Downstream {
			fmt.Fprint(b, ", position: downstream")
		} else if position {
			fmt.Fprint(b, ", position: upstream")
		}
		fmt.Fprintln(b, "}")
	}
	write("inlet", m.Inlet, false)
	write("service", m.Service, true)
	write("drain", m.Drain, false)
}

// writeAway writes the spans as whole local days, the last included.
func writeAway(b *bufio.Writer, h *detect.Home) {
	if len(h.Away) == 0 {
		return
	}
	var days []string
	for _, s := range h.Away {
		last := s.To.Add(-time.Nanosecond)
		days = append(days, fmt.Sprintf("{from: %s, to: %s}", s.From.In(h.Location).Format(time.DateOnly), last.In(h.Location).Format(time.DateOnly)))
	}
	fmt.Fprintf(b, "    away: [%s]\n", strings.Join(days, ", "))
}
