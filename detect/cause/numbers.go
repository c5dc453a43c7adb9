package cause

import (
	"cmp"
	"math"
	"strings"

	"brinebell/detect/cause/joint"
)

// measured is a number in the evidence of findings that counts by itself, once,
// whichever findings carry it.
type measured struct {
	key    string
	unless string // left out where this one is known
	doubt  float64
	least  float64     // what is below counts as this
	usual  []float64   // median and factor where no cause moves it
	rows   [][]float64 // by cause: medians by severity, the factor last; nil: leaves it as usual
}

// anyFactor is how far, about the usual, numbers lie that come from anything.
const anyFactor = 3

// like is the density of log x about a median, with its part of doubt.
func (n *measured) like(log, median, factor float64) float64 {
	anything := normal(log, math.Log(n.usual[0]), math.Log(math.Max(anyFactor, n.usual[1])))
	return (1-n.doubt)*normal(log, math.Log(median), math.Log(factor)) + n.doubt*anything
}

// numbers weighs every number that the findings carry: one piece for all of them
// together, and one to be told for each, with what it adds to the others.
func (m *Model) numbers(e Evidence) []piece {
	x, known := m.densities(e)
	if len(known) == 0 {
		return nil
	}
	all := piece{logs: m.space.Measured(x)}
	pieces := []piece{all}
	for k, n := range known {
		f, _ := FactOf(n.key)
		v, _ := e.number(n.key)
		rest := m.space.Measured(x.Without(k))
		for h := range rest {
			rest[h] = all.logs[h] - rest[h]
		}
		pieces = append(pieces, piece{says: lower(f.Name) + ": " + f.In(v), logs: rest, part: true})
	}
	return pieces
}

// densities are those of the numbers known, each under every cause and severity.
func (m *Model) densities(e Evidence) (x joint.Numbers, known []*measured) {
	x.Alone = make([][][]float64, len(m.names))
	for c, n := range m.levels {
		if n > 0 {
			x.Alone[c] = make([][]float64, n)
		}
	}
	for _, n := range m.measured {
		v, ok := e.number(n.key)
		if _, better := e.number(n.unless); ok && !better {
			weighNumber(&x, n, math.Log(math.Max(v, n.least)))
			known = append(known, n)
		}
	}
	return x, known
}

// unmoved is how near, as a logarithm, a median must be to the usual for the case
// to leave the number as it is: it then scatters as usual too, not as where the
// cause has moved it.
const unmoved = 0.03

func (n *measured) factor(row []float64, level int) float64 {
	if math.Abs(math.Log(row[level]/n.usual[0])) <= unmoved {
		return n.usual[1]
	}
	return row[len(row)-1]
}

func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// weighNumber appends the densities of one number.
func weighNumber(x *joint.Numbers, n *measured, log float64) {
	x.None = append(x.None, n.like(log, n.usual[0], n.usual[1]))
	for c := range x.Alone {
		for level := range x.Alone[c] {
			own := math.NaN()
			if row := n.rows[c]; row != nil {
				own = n.like(log, row[level], n.factor(row, level))
			}
			x.Alone[c][level] = append(x.Alone[c][level], own)
		}
	}
}

// number is the number of this key that any finding carries.
func (e *Evidence) number(key string) (float64, bool) {
	for _, f := range e.Findings {
		if v, ok := number(f.Details[key]); ok {
			return v, true
		}
	}
	return 0, false
}

type (
	numbersSheet struct {
		Doubt   float64
		Numbers []numberSheet
	}
	numberSheet struct {
		Key, Unless  string
		Doubt, Least float64
		Usual        []float64
		Rows         []row
	}
)

func (l *loader) numbers(m *Model) {
	var s numbersSheet
	l.read("numbers.yaml", &s)
	m.levels = make([]int, len(l.number))
	for _, y := range s.Numbers {
		n := &measured{key: y.Key, unless: y.Unless, doubt: cmp.Or(y.Doubt, s.Doubt), least: y.Least, usual: y.Usual, rows: make([][]float64, len(l.number))}
		if y.Key == "" || !(n.doubt > 0 && n.doubt < 1) || !(y.Least > 0) || len(y.Usual) != 2 || !(y.Usual[0] > 0) || !(y.Usual[1] > 1) {
			l.fail(1, "number %q: needs a key, least, doubt between 0 and 1, and usual: [median, factor above 1]", y.Key)
			continue
		}
		if _, ok := FactOf(y.Key); !ok {
			l.fail(1, "number %q: needs a name in evidence.yaml", y.Key)
		}
		l.each(y.Rows, -1, false, func(c int, r row) { n.rows[c] = l.medians(m, c, r) })
		m.measured = append(m.measured, n)
	}
}

// medians checks a row: as many medians as in the cause's other rows.
func (l *loader) medians(m *Model, c int, r row) []float64 {
	levels := len(r.Numbers) - 1
	if levels < 2 || !(r.Numbers[levels] > 1) {
		l.fail(r.line, "%s: medians from slight to bad, and a factor above 1", r.Cause)
		return nil
	}
	for _, v := range r.Numbers[:levels] {
		if !(v > 0) {
			l.fail(r.line, "%s: a median above 0", r.Cause)
		}
	}
	if m.levels[c] != 0 && m.levels[c] != levels {
		l.fail(r.line, "%s: %d medians where its other rows have %d", r.Cause, levels, m.levels[c])
		return nil
	}
	m.levels[c] = levels
	return r.Numbers
}
