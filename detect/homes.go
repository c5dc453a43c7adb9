package detect

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"time"

	"go.yaml.in/yaml/v3"
)

var homeID = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]*[a-z0-9])?$`)

// ReadHomes reads a homes file. Every key but id and timezone has the default
// of DefaultHome. All that is wrong is reported at once, joined, each with the
// name of the file, its line and the key; name is only for these messages.
func ReadHomes(name string, r io.Reader) ([]Home, error) {
	var doc yaml.Node
	if err := yaml.NewDecoder(r).Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%s: empty: a homes file starts with \"homes:\" and lists at least one home", name)
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &profileReader{file: name}
	var homes []Home
	p.mapping(doc.Content[0], "", fields{"homes": func(n *yaml.Node, path string) {
		p.list(n, path, func(item *yaml.Node, path string) { homes = append(homes, p.home(item, path)) })
	}})
	if len(homes) == 0 && len(p.errs) == 0 {
		p.fail(doc.Content[0], "homes", "no homes: list at least one with id and timezone")
	}
	p.unique(homes)
	if err := errors.Join(p.errs...); err != nil {
		return nil, err
	}
	return homes, nil
}

func (p *profileReader) unique(homes []Home) {
	seen := map[string]bool{}
	for _, h := range homes {
		if h.ID != "" && seen[h.ID] {
			p.errs = append(p.errs, fmt.Errorf("%s: home %q is listed twice", p.file, h.ID))
		}
		seen[h.ID] = true
	}
}

func (p *profileReader) home(n *yaml.Node, path string) Home {
	h := DefaultHome("", nil)
	var away *yaml.Node
	p.mapping(n, path, fields{
		"id":         p.pattern(&h.ID, homeID, "small letters, digits and hyphens, as in mill-lane-4"),
		"name":       p.text(&h.Name),
		"timezone":   p.zone(&h.Location),
		"units":      p.choice(map[string]func(){"metric": func() { h.Units = Metric }, "us": func() { h.Units = US }}),
		"occupants":  p.number(&h.Occupants, 0, 100),
		"water":      func(n *yaml.Node, path string) { p.water(n, path, &h.Water) },
		"softener":   func(n *yaml.Node, path string) { p.softener(n, path, &h.Softener) },
		"brine_tank": func(n *yaml.Node, path string) { p.brineTank(n, path, &h.BrineTank) },
		"meters":     func(n *yaml.Node, path string) { p.meters(n, path, &h.Meters) },
		"bypassed":   func(n *yaml.Node, path string) { p.list(n, path, p.appendText(&h.Bypassed)) },
		"costs":      func(n *yaml.Node, path string) { p.costs(n, path, &h.Costs) },
		"away":       func(n *yaml.Node, _ string) { away = n },
	})
	if h.ID == "" {
		p.fail(n, path+".id", "missing: every home needs an id")
	}
	if h.Location == nil {
		p.fail(n, path+".timezone", "missing: every home needs its IANA time zone, as in Europe/Dublin")
		h.Location = time.UTC
	}
	if h.Name == "" {
		h.Name = h.ID
	}
	if away != nil { // needs the zone, whatever the order of the keys
		p.list(away, path+".away", func(n *yaml.Node, path string) { h.Away = append(h.Away, p.span(n, path, h.Location)) })
	}
	return h
}

func (p *profileReader) water(n *yaml.Node, path string, w *Water) {
	p.mapping(n, path, fields{
		"hardness":  p.quantity(&w.Hardness, Hardness, 0, 5000),
		"iron":      p.quantity(&w.Iron, Concentration, 0, 100),
		"manganese": p.quantity(&w.Manganese, Concentration, 0, 100),
	})
}

func (p *profileReader) softener(n *yaml.Node, path string, s *Softener) {
	var capacity *yaml.Node
	p.mapping(n, path, fields{
		"resin":     p.quantity(&s.Resin, Volume, 0.5, 2000),
		"capacity":  func(n *yaml.Node, _ string) { capacity = n },
		"salt_dose": p.quantity(&s.SaltDose, Mass, 0.05, 200),
		"salt": p.choice(map[string]func(){"sodium_chloride": func() { s.Salt = SodiumChloride },
			"potassium_chloride": func() { s.Salt = PotassiumChloride }}),
		"control": p.choice(map[string]func(){"metered_delayed": func() { s.Control = MeteredDelayed },
			"metered_immediate": func() { s.Control = MeteredImmediate }, "timed": func() { s.Control = Timed }}),
		"regeneration_time": p.clock(&s.RegenerationTime),
		"days_override":     p.whole(&s.DaysOverride, 0, 366),
		"reserve":           p.quantity(&s.Reserve, Fraction, 0, 0.95),
		"refill":            p.choice(map[string]func(){"after": func() { s.RefillBefore = false }, "before": func() { s.RefillBefore = true }}),
		"tanks":             p.choice(map[string]func(){"single": func() { s.Alternating = false }, "alternating": func() { s.Alternating = true }}),
		"cycle": func(n *yaml.Node, path string) {
			s.Cycle = nil
			p.list(n, path, func(n *yaml.Node, path string) { s.Cycle = append(s.Cycle, p.step(n, path)) })
			if len(s.Cycle) == 0 {
				p.fail(n, path, "empty: list the programmed phases in order, or leave the key out")
			}
		},
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

func (p *profileReader) step(n *yaml.Node, path string) ProgrammeStep {
	var s ProgrammeStep
	var minutes float64
	phase := func(ph Phase) func() { return func() { s.Phase = ph } }
	p.mapping(n, path, fields{
		"phase": p.choice(map[string]func(){"backwash": phase(Backwash), "brine_draw": phase(BrineDraw), "slow_rinse": phase(SlowRinse),
			"fast_rinse": phase(FastRinse), "refill": phase(Refill)}),
		"minutes": p.number(&minutes, 0.1, 600),
		"flow":    p.quantity(&s.Flow, FlowRate, 0, 500),
	})
	s.Duration = time.Duration(minutes * float64(time.Minute))
	if s.Phase == "" || minutes == 0 {
		p.fail(n, path, "a phase needs at least phase and minutes")
	}
	return s
}

func (p *profileReader) brineTank(n *yaml.Node, path string, t *BrineTank) {
	p.mapping(n, path, fields{
		"diameter":  p.quantity(&t.Diameter, Length, 50, 5000),
		"height":    p.quantity(&t.Height, Length, 50, 5000),
		"grid":      p.quantity(&t.Grid, Length, 0, 2000),
		"float":     p.quantity(&t.Float, Length, 0, 5000),
		"well":      p.quantity(&t.Well, Length, 0, 2000),
		"salt_void": p.quantity(&t.SaltVoid, Fraction, 0.05, 0.95),
	})
	if t.Well >= t.Diameter {
		p.fail(n, path+".well", "the brine well is wider than the tank")
	}
}

func (p *profileReader) meters(n *yaml.Node, path string, m *Meters) {
	meter := func(at **Meter, service bool) func(*yaml.Node, string) {
		return func(n *yaml.Node, path string) {
			*at = &Meter{Pulse: 0.1}
			f := fields{"pulse": p.quantity(&(*at).Pulse, Volume, 0, 1000), "starting_flow": p.quantity(&(*at).StartingFlow, FlowRate, 0, 100)}
			if service {
				f["position"] = p.choice(map[string]func(){"upstream": func() {}, "downstream": func() { (*at).Downstream = true }})
			}
			p.mapping(n, path, f)
		}
	}
	p.mapping(n, path, fields{"inlet": meter(&m.Inlet, false), "service": meter(&m.Service, true), "drain": meter(&m.Drain, false)})
}

func (p *profileReader) costs(n *yaml.Node, path string, c *Costs) {
	p.mapping(n, path, fields{
		"water":    p.quantity(&c.Water, PerVolume, 0, 1e4),
		"salt":     p.quantity(&c.Salt, PerMass, 0, 1e4),
		"currency": p.pattern(&c.Currency, regexp.MustCompile(`^[A-Z]{3}$`), "a currency's three letters, as in EUR"),
	})
}

// span reads whole local days: from the start of the first to the end of the last.
func (p *profileReader) span(n *yaml.Node, path string, loc *time.Location) Span {
	var s Span
	day := func(at *time.Time) func(*yaml.Node, string) {
		return func(n *yaml.Node, path string) {
			t, err := time.ParseInLocation(time.DateOnly, n.Value, loc)
			if err != nil {
				p.fail(n, path, fmt.Sprintf("%q is not a day, as in 2026-08-01", n.Value))
			}
			*at = t
		}
	}
	p.mapping(n, path, fields{"from": day(&s.From), "to": day(&s.To)})
	if s.From.IsZero() || s.To.Before(s.From) {
		p.fail(n, path, "needs from and to, two days in order")
	}
	s.To = s.To.AddDate(0, 0, 1)
	return s
}
