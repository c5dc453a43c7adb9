package detect

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"time"

	"go.yaml.in/yaml/v3"
)

var (
	homeID   = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]*[a-z0-9])?$`)
	currency = regexp.MustCompile(`^[A-Z]{3}$`)
	// yamlSyntax is how the decoder says where a file stops being YAML.
	yamlSyntax = regexp.MustCompile(`^yaml: line (\d+): (.*)$`)
)

// ReadHomes reads a homes file. Every key but id and timezone has the default
// of DefaultHome. All that is wrong is reported at once, joined, each with the
// name of the file, its line and the key; name is only for these messages.
func ReadHomes(name string, r io.Reader) ([]Home, error) {
	return ReadHomesNoting(name, r, func(string) {})
}

// ReadHomesNoting is ReadHomes that tells note of what can be read but was
// perhaps not meant, each with file, line and key.
func ReadHomesNoting(name string, r io.Reader, note func(string)) ([]Home, error) {
	var doc yaml.Node
	if err := yaml.NewDecoder(r).Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%s: empty: a homes file starts with \"homes:\" and lists at least one home", name)
		}
		if m := yamlSyntax.FindStringSubmatch(err.Error()); m != nil {
			return nil, fmt.Errorf("%s:%s: not YAML: %s", name, m[1], m[2])
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &profileReader{file: name, note: note}
	var homes []Home
	p.mapping(doc.Content[0], "", p.homes(&homes))
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

// homes are the keys of the whole file.
func (p *profileReader) homes(all *[]Home) fields {
	return fields{{"homes", "every home once", func(n *yaml.Node, path string) {
		p.list(n, path, func(item *yaml.Node, path string) { *all = append(*all, p.home(item, path)) })
	}}}
}

func (p *profileReader) home(n *yaml.Node, path string) Home {
	h := DefaultHome("", nil)
	var away *yaml.Node
	p.mapping(n, path, fields{
		{"id", "names the home in topics and recordings; required", p.pattern(&h.ID, homeID, "small letters, digits and hyphens, as in mill-lane-4")},
		{"name", "what people call it; its id when left out", p.text(&h.Name)},
		{"timezone", "the home's night is local; required", p.zone(&h.Location)},
		{"units", "on screen", p.choice(string(h.Units), options{{"metric", func() { h.Units = Metric }}, {"us", func() { h.Units = US }}})},
		{"occupants", "people who live there", p.number(&h.Occupants, 0, 100)},
		{"water", "the raw water", func(n *yaml.Node, path string) { p.water(n, path, &h.Water) }},
		{"softener", "the softener as set", func(n *yaml.Node, path string) { p.softener(n, path, &h.Softener) }},
		{"brine_tank", "the brine tank's measures", func(n *yaml.Node, path string) { p.brineTank(n, path, &h.BrineTank) }},
		{"meters", "what hangs on the pipes; leave out what is not there", func(n *yaml.Node, path string) { p.meters(n, path, &h.Meters) }},
		{"bypassed", "taps fed before the softener, as in [irrigation]", func(n *yaml.Node, path string) { p.list(n, path, p.appendText(&h.Bypassed)) }},
		{"costs", "what the household pays", func(n *yaml.Node, path string) { p.costs(n, path, &h.Costs) }},
		{"away", "local days on which nobody is at home", func(n *yaml.Node, path string) {
			if away = n; p.describing() {
				p.list(n, path, func(n *yaml.Node, path string) { p.span(n, path, nil) })
			}
		}},
	})
	if p.describing() {
		return h
	}
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

// softWater is the hardness in mg/L as CaCO3 below which nobody needs a softener:
// "soft" in the classification of the US Geological Survey (Durfor and Becker,
// Water-Supply Paper 1812, 1964) ends at 60. A bare number below it is more likely
// grains per gallon.
const softWater = 60

func (p *profileReader) water(n *yaml.Node, path string, w *Water) {
	hardness := p.quantity(&w.Hardness, Hardness, 0, 5000)
	p.mapping(n, path, fields{
		{"hardness", "as CaCO3; a bare number is mg/L", func(n *yaml.Node, path string) {
			if hardness(n, path); n != nil && isBare(n.Value) && w.Hardness > 0 && w.Hardness < softWater {
				p.remark(n, path, fmt.Sprintf("read as %s mg/L, which is soft water; write %[1]s gpg if grains per gallon were meant", n.Value))
			}
		}},
		{"iron", "dissolved; a bare number is mg/L", p.quantity(&w.Iron, Concentration, 0, 100)},
		{"manganese", "dissolved; a bare number is mg/L", p.quantity(&w.Manganese, Concentration, 0, 100)},
	})
}

func (p *profileReader) costs(n *yaml.Node, path string, c *Costs) {
	p.mapping(n, path, fields{
		{"water", "price of water", p.quantity(&c.Water, PerVolume, 0, 1e4)},
		{"salt", "price of salt", p.quantity(&c.Salt, PerMass, 0, 1e4)},
		{"currency", "that both are in", p.pattern(&c.Currency, currency, "a currency's three letters, as in EUR")},
	})
}

// span reads whole local days: from the start of the first to the end of the last.
func (p *profileReader) span(n *yaml.Node, path string, loc *time.Location) Span {
	var s Span
	day := func(at *time.Time) func(*yaml.Node, string) {
		return func(n *yaml.Node, path string) {
			if p.describe("a day, as in 2026-08-01", "") {
				return
			}
			t, err := time.ParseInLocation(time.DateOnly, n.Value, loc)
			if err != nil {
				p.fail(n, path, fmt.Sprintf("%q is not a day, as in 2026-08-01", n.Value))
			}
			*at = t
		}
	}
	p.mapping(n, path, fields{{"from", "the first", day(&s.From)}, {"to", "the last", day(&s.To)}})
	if p.describing() {
		return s
	}
	if s.From.IsZero() || s.To.Before(s.From) {
		p.fail(n, path, "needs from and to, two days in order")
	}
	s.To = s.To.AddDate(0, 0, 1)
	return s
}
