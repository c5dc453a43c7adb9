package cause

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"go.yaml.in/yaml/v3"

	"brinebell/detect"
	"brinebell/detect/cause/joint"
)

//go:embed table/*.yaml
var files embed.FS

// standard is the table that comes with the program.
var standard = mustLoad(files)

// Standard is the model of the table that comes with the program. It is not
// changed by use and may be shared.
func Standard() *Model { return standard }

func mustLoad(files fs.FS) *Model {
	m, err := Load(files)
	if err != nil {
		panic(fmt.Sprintf("the built-in table of causes: %v", err))
	}
	return m
}

// Load makes a model of the six files in the folder table of files. All that is
// wrong with them is reported at once, each with its file and line.
func Load(files fs.FS) (*Model, error) {
	l := &loader{files: files, number: map[detect.Cause]int{}}
	for i, c := range detect.Causes() {
		l.number[c] = i
	}
	m := &Model{space: joint.NewSpace(len(l.number)), names: detect.Causes()}
	l.causes(m)
	l.findings(m)
	l.numbers(m)
	l.symptoms(m)
	l.hardness(m)
	l.checks(m)
	if err := errors.Join(l.errs...); err != nil {
		return nil, err
	}
	for _, s := range m.symptoms {
		s.outlook = m.space.Prospects(s.effect)
	}
	for _, c := range m.checks {
		c.outlook = m.space.Prospects(c.effect)
	}
	m.attach()
	return m, nil
}

type loader struct {
	files   fs.FS
	number  map[detect.Cause]int
	sources map[string]string
	file    string
	errs    []error
}

func (l *loader) fail(line int, format string, args ...any) {
	l.errs = append(l.errs, fmt.Errorf("%s:%d: %s", l.file, line, fmt.Sprintf(format, args...)))
}

func (l *loader) read(name string, into any) {
	l.file = name
	text, err := fs.ReadFile(l.files, "table/"+name)
	if err == nil {
		d := yaml.NewDecoder(bytes.NewReader(text))
		d.KnownFields(true)
		err = d.Decode(into)
	}
	if err != nil {
		l.errs = append(l.errs, fmt.Errorf("%s: %w", name, err))
	}
}

func (l *loader) causes(m *Model) {
	var s causesSheet
	l.read("causes.yaml", &s)
	l.sources = s.Sources
	m.window, m.strength = s.WindowDays/daysPerYear, s.Strength
	if !(m.window > 0) || !(m.strength > 0) {
		l.fail(1, "window_days and strength must be above 0")
	}
	m.rates = make([]float64, len(l.number))
	l.each(s.Causes, 1, false, func(c int, r row) {
		if m.rates[c] = r.Numbers[0]; !(r.Numbers[0] > 0) {
			l.fail(r.line, "%s: the rate must be above 0, rare causes stay possible", r.Cause)
		}
	})
	m.lasts = make([]float64, len(l.number))
	l.each(s.Lasts, 1, false, func(c int, r row) {
		if m.lasts[c] = r.Numbers[0]; !(r.Numbers[0] > 0) {
			l.fail(r.line, "%s: lasts days above 0", r.Cause)
		}
	})
	for c, rate := range m.rates {
		if rate == 0 {
			l.fail(1, "%s has no rate", m.names[c])
		}
	}
}

// other numbers the row for every cause without its own; it follows the causes.
const other = "other"

// each checks rows, of so many numbers or of any when that is below 0, and hands them on with their cause's number; the number of
// "other", where it may stand, is that of the causes.
func (l *loader) each(rows []row, numbers int, others bool, take func(c int, r row)) {
	seen := map[string]bool{}
	for _, r := range rows {
		c, known := l.number[detect.Cause(r.Cause)]
		if others && r.Cause == other {
			c, known = len(l.number), true
		}
		switch {
		case !known:
			l.fail(r.line, "unknown cause %q", r.Cause)
		case seen[r.Cause]:
			l.fail(r.line, "%s has two rows", r.Cause)
		case numbers >= 0 && len(r.Numbers) != numbers:
			l.fail(r.line, "%s: %d numbers where %d belong", r.Cause, len(r.Numbers), numbers)
		case r.Reason == "" || l.sources[r.Source] == "":
			l.fail(r.line, "%s: needs a reason and a source named in causes.yaml", r.Cause)
		default:
			seen[r.Cause] = true
			take(c, r)
		}
	}
	if others && !seen[other] {
		l.fail(1, "a detail has no row for %q", other)
	}
}

// chances checks that a row sums to one.
func (l *loader) chances(line int, what string, p []float64) {
	sum := 0.0
	for _, v := range p {
		if sum += v; v < 0 || v > 1 {
			l.fail(line, "%s: %v is no chance", what, v)
		}
	}
	if sum < 1-sumSlack || sum > 1+sumSlack {
		l.fail(line, "%s: the chances sum to %v, not to 1", what, sum)
	}
}

const (
	daysPerYear = 365.25
	sumSlack    = 1e-6
)

// effect makes an effect of n states from its rows.
func (l *loader) effect(name string, none []float64, rows []row, n int) *joint.Effect {
	alone := make([][]float64, len(l.number))
	if len(none) != n || n < 2 {
		l.fail(1, "%s: %d chances without a cause for %d states", name, len(none), n)
		return joint.NewEffect([]float64{1}, alone)
	}
	l.chances(1, name, none)
	l.each(rows, n, false, func(c int, r row) {
		l.chances(r.line, name+": "+r.Cause, r.Numbers)
		alone[c] = r.Numbers
	})
	return joint.NewEffect(none, alone)
}
