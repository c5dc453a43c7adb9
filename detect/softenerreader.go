package detect

import (
	"fmt"
	"time"

	"go.yaml.in/yaml/v3"
)

func (p *profileReader) softener(n *yaml.Node, path string, s *Softener) {
	var capacity *yaml.Node
	p.mapping(n, path, fields{
		{"resin", "volume of the resin", p.quantity(&s.Resin, Volume, 0.5, 2000)},
		{"capacity", "per litre of resin as set, or in all as in 20000 grains", func(n *yaml.Node, path string) {
			if capacity = n; p.describing() {
				p.quantity(&s.Capacity, Exchange, 0.05, 2.5)(n, path)
			}
		}},
		{"salt_dose", "salt for one regeneration", p.quantity(&s.SaltDose, Mass, 0.05, 200)},
		{"salt", "what the brine is made of", p.choice(string(s.Salt), options{{"sodium_chloride", func() { s.Salt = SodiumChloride }},
			{"potassium_chloride", func() { s.Salt = PotassiumChloride }}})},
		{"control", "what makes it regenerate: use, at the set hour or at once; or the days", p.choice(string(s.Control), options{
			{"metered_delayed", func() { s.Control = MeteredDelayed }}, {"metered_immediate", func() { s.Control = MeteredImmediate }},
			{"timed", func() { s.Control = Timed }}})},
		{"regeneration_time", "local hour of the regeneration", p.clock(&s.RegenerationTime)},
		{"days_override", "most days between regenerations, 0: any; the interval itself when timed", p.whole(&s.DaysOverride, 0, 366)},
		{"reserve", "share of the capacity kept back until the set hour", p.quantity(&s.Reserve, Fraction, 0, 0.95)},
		{"refill", "whether brine is made after the rinse or ahead of the draw", p.choice("after", options{{"after", func() { s.RefillBefore = false }},
			{"before", func() { s.RefillBefore = true }}})},
		{"tanks", "one of resin, or two in turn", p.choice("single", options{{"single", func() { s.Alternating = false }},
			{"alternating", func() { s.Alternating = true }}})},
		{"cycle", "the programme, its phases in order", func(n *yaml.Node, path string) { p.cycle(n, path, s) }},
	})
	if capacity != nil { // a total needs the resin's volume, whatever the order of the keys
		p.capacity(capacity, path+".capacity", s)
	}
}

// capacity accepts eq per litre of resin, grains per ft3, or a total in grains.
func (p *profileReader) capacity(n *yaml.Node, path string, s *Softener) {
	if perLitre, err := ParseQuantity(n.Value, Exchange); err == nil {
		s.Capacity = perLitre
	} else if grains, err := ParseQuantity(n.Value, HardnessMass); err == nil {
		s.Capacity = grains * mgPerGrain / 1000 / EquivalentCaCO3 / s.Resin
	} else {
		p.fail(n, path, fmt.Sprintf("%q: use eq/L or grains/ft3 of resin, or grains in all, as in \"20000 grains\"", n.Value))
		return
	}
	if s.Capacity < 0.05 || s.Capacity > 2.5 {
		p.fail(n, path, fmt.Sprintf("%.3g eq per litre of resin: softening resin has between 0.05 and 2.5", s.Capacity))
	}
}

func (p *profileReader) cycle(n *yaml.Node, path string, s *Softener) {
	s.Cycle = nil
	p.list(n, path, func(n *yaml.Node, path string) { s.Cycle = append(s.Cycle, p.step(n, path)) })
	if len(s.Cycle) == 0 {
		p.fail(n, path, "empty: list the programmed phases in order, or leave the key out")
	}
}

func (p *profileReader) step(n *yaml.Node, path string) ProgrammeStep {
	var s ProgrammeStep
	var minutes float64
	var phases options
	for _, ph := range []Phase{Backwash, BrineDraw, SlowRinse, FastRinse, Refill} {
		phases = append(phases, option{string(ph), func() { s.Phase = ph }})
	}
	p.mapping(n, path, fields{
		{"phase", "which", p.choice("", phases)},
		{"minutes", "how long it takes", p.number(&minutes, 0.1, 600)},
		{"flow", "down the drain; in the refill, of the brine line", p.quantity(&s.Flow, FlowRate, 0, 500)},
	})
	s.Duration = time.Duration(minutes * float64(time.Minute))
	if !p.describing() && (s.Phase == "" || minutes == 0) {
		p.fail(n, path, "a phase needs at least phase and minutes")
	}
	return s
}

func (p *profileReader) brineTank(n *yaml.Node, path string, t *BrineTank) {
	p.mapping(n, path, fields{
		{"diameter", "inside", p.quantity(&t.Diameter, Length, 50, 5000)},
		{"height", "inside", p.quantity(&t.Height, Length, 50, 5000)},
		{"grid", "height of a salt grid above the floor, 0: none", p.quantity(&t.Grid, Length, 0, 2000)},
		{"float", "level at which the safety float closes, 0: none", p.quantity(&t.Float, Length, 0, 5000)},
		{"well", "diameter of the brine well", p.quantity(&t.Well, Length, 0, 2000)},
		{"salt_void", "share of the salt bed that is pores", p.quantity(&t.SaltVoid, Fraction, 0.05, 0.95)},
	})
	if t.Well >= t.Diameter {
		p.fail(n, path+".well", "the brine well is wider than the tank")
	}
}

func (p *profileReader) meters(n *yaml.Node, path string, m *Meters) {
	meter := func(at **Meter, service bool) func(*yaml.Node, string) {
		return func(n *yaml.Node, path string) {
			*at = &Meter{Pulse: 0.1}
			f := fields{{"pulse", "its resolution, 0: continuous", p.quantity(&(*at).Pulse, Volume, 0, 1000)},
				{"starting_flow", "below which it stands still", p.quantity(&(*at).StartingFlow, FlowRate, 0, 100)}}
			if service {
				f = append(f, field{"position", "of the resin; downstream of it regenerations are not seen",
					p.choice("upstream", options{{"upstream", func() {}}, {"downstream", func() { (*at).Downstream = true }}})})
			}
			p.mapping(n, path, f)
		}
	}
	p.mapping(n, path, fields{{"inlet", "in the house main", meter(&m.Inlet, false)}, {"service", "at the softener", meter(&m.Service, true)},
		{"drain", "in the softener's drain line", meter(&m.Drain, false)}})
}
