package cause

import (
	"math"
	"slices"
	"strings"

	"brinebell/detect"
)

func (l *loader) findings(m *Model) {
	var s findingsSheet
	l.read("findings.yaml", &s)
	if m.odd = s.Odd; !(m.odd > 0 && m.odd < 0.1) {
		l.fail(1, "odd must be above 0 and below 0.1")
	}
	for _, name := range s.OddWith {
		c, known := l.number[detect.Cause(name)]
		if !known {
			l.fail(1, "odd_with: unknown cause %q", name)
			continue
		}
		m.oddWith = append(m.oddWith, c)
	}
	if m.silent = s.Silence; !(m.silent > 0 && m.silent <= 1) {
		l.fail(1, "silence must be above 0 and at most 1")
	}
	byKind := map[detect.Kind]*findingRow{}
	for _, f := range s.Findings {
		byKind[detect.Kind(f.Kind)] = l.finding(m, f)
	}
	for _, k := range detect.Kinds() {
		if byKind[k] == nil {
			l.fail(1, "%s has no entry", k)
			continue
		}
		m.findings = append(m.findings, byKind[k])
	}
	if len(byKind) != len(detect.Kinds()) {
		l.fail(1, "an entry is of no known kind, or twice there")
	}
}

func (l *loader) finding(m *Model, s findingSheet) *findingRow {
	f := &findingRow{kind: detect.Kind(s.Kind), says: s.Says, silent: s.Silent, missed: s.Missed, days: s.Days,
		leak: s.FalsePerYear * m.window, chance: make([]float64, len(l.number))}
	if s.Says == "" || s.Silent == "" || !(f.leak > 0 && f.leak < 1) || !(s.Missed >= 0 && s.Missed < 1) || !(s.Days > 0) || len(s.Rows) == 0 {
		l.fail(1, "%s: needs says, silent, needs, false_per_year, missed, days and rows", s.Kind)
	}
	for _, needs := range s.Needs {
		f.needs = append(f.needs, l.signals(needs))
	}
	l.each(s.Rows, 1, false, func(c int, r row) {
		if f.chance[c] = r.Numbers[0]; !(r.Numbers[0] > 0 && r.Numbers[0] < 1) {
			l.fail(r.line, "%s: a chance between 0 and 1, neither itself", r.Cause)
		}
	})
	for _, c := range m.oddWith {
		f.chance[c] = math.Max(f.chance[c], m.odd)
	}
	for _, d := range s.Details {
		f.details = append(f.details, l.detail(d))
	}
	return f
}

// signals reads "a + b"; "any" needs none by name.
func (l *loader) signals(text string) (all []detect.Signal) {
	if text == "any" {
		return nil
	}
	for name := range strings.SplitSeq(text, "+") {
		s, err := detect.ParseSignal(strings.TrimSpace(name))
		if err != nil {
			l.fail(1, "needs %q: %v", text, err)
			continue
		}
		all = append(all, s)
	}
	return all
}

func (l *loader) detail(s detailSheet) detail {
	d := detail{key: s.Key, choices: s.Choices, least: s.Least, rows: make([][]float64, len(l.number)+1)}
	numbers := len(s.Choices)
	if numbers == 0 {
		numbers = 2
	}
	if s.Key == "" || len(s.Choices) == 0 && !(s.Least > 0) {
		l.fail(1, "detail %q: needs a key, and choices or least", s.Key)
	}
	l.each(s.Rows, numbers, true, func(c int, r row) {
		d.rows[c] = r.Numbers
		if len(s.Choices) > 0 {
			l.chances(r.line, s.Key+": "+r.Cause, r.Numbers)
		} else if !(r.Numbers[0] > 0 && r.Numbers[1] > 1) {
			l.fail(r.line, "%s: a median above 0 and a factor above 1", r.Cause)
		}
	})
	for c, own := range d.rows {
		if own == nil {
			d.rows[c] = d.rows[len(d.rows)-1]
		}
	}
	return d
}

func (l *loader) symptoms(m *Model) {
	var s symptomsSheet
	l.read("symptoms.yaml", &s)
	for _, y := range s.Symptoms {
		rows := slices.Clone(y.Rows)
		for i, r := range rows {
			if len(r.Numbers) == 1 {
				rows[i].Numbers = []float64{1 - r.Numbers[0], r.Numbers[0]}
			}
		}
		m.symptoms = append(m.symptoms, &Symptom{ID: y.ID, Asks: y.Asks, Says: y.Says,
			effect: l.effect(y.ID, []float64{1 - y.None, y.None}, rows, 2)})
	}
}

func (l *loader) hardness(m *Model) {
	var s hardnessSheet
	l.read("hardness.yaml", &s)
	m.taps = l.measure("taps", s.Taps)
	m.raw = l.measure("raw", s.Raw)
}

func (l *loader) measure(name string, s measureSheet) measure {
	for _, state := range s.States {
		if !(state.Factor > 1) || state.Source == "" {
			l.fail(1, "%s: %s needs a factor above 1 and a source", name, state.ID)
		}
	}
	return measure{states: s.States, few: s.Few, withoutRaw: s.WithoutRaw, typicalRaw: s.TypicalRaw,
		effect: l.effect(name, s.None, s.Rows, len(s.States))}
}

func (l *loader) checks(m *Model) {
	var s checksSheet
	l.read("checks.yaml", &s)
	for _, y := range s.Checks {
		c := &Check{ID: y.ID, Asks: y.Asks, Minutes: y.Minutes, Who: Who(y.Who), Tools: y.Tools, Caution: y.Caution, Outcomes: y.Outcomes}
		if y.Asks == "" || !(y.Minutes > 0) || c.Who != Household && c.Who != Technician || y.Tools == "" {
			l.fail(1, "%s: needs asks, minutes, who and tools", y.ID)
		}
		if y.Replaces != "" {
			c.replaces = l.signals(y.Replaces)
		}
		if y.SameAs == "taps" {
			for _, state := range m.taps.states {
				c.Outcomes = append(c.Outcomes, Outcome{ID: state.ID, Says: state.Says, Means: state.Means})
			}
			c.effect = m.taps.effect
		} else {
			c.effect = l.effect(y.ID, y.None, y.Rows, len(y.Outcomes))
		}
		m.checks = append(m.checks, c)
	}
}
