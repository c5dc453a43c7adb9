package cause

import (
	"math"
	"slices"

	"brinebell/detect"
	"brinebell/detect/cause/joint"
)

// Model weighs causes by the table. It is not changed by use.
type Model struct {
	space    *joint.Space
	names    []detect.Cause
	rates    []float64 // per home-year
	window   float64   // years that a fault stands before somebody looks
	lasts    []float64 // days by which half of what ends by itself has ended; 0: it stands
	odd      float64   // chance of any finding with the causes of oddWith
	oddWith  []int
	silent   float64   // how much a finding not raised counts
	strength float64   // confirmed causes that the rates are worth
	prior    []float64 // log, by hypothesis

	findings []*findingRow // by kind
	measured []*measured
	levels   []int // of severity in the numbers, by cause
	symptoms []*Symptom
	taps     measure
	raw      measure
	checks   []*Check
}

// findingRow is what the table says of one kind of finding.
type findingRow struct {
	kind         detect.Kind
	says, silent string
	needs        [][]detect.Signal // any of these sets lets a home see it
	leak         float64           // chance of a false alarm in the window
	missed, days float64
	chance       []float64 // by cause, before what the detector misses
	details      []detail
}

// Symptom is something that people notice.
type Symptom struct {
	ID   string
	Asks string // as a question to answer with yes or no
	Says string // as a statement

	effect  *joint.Effect
	outlook *joint.Prospects
}

// Who can make a check.
type Who string

// Who there is. A technician can make the household's checks too.
const (
	Household  Who = "household"
	Technician Who = "technician"
)

// Check is something to look at, with its possible answers.
type Check struct {
	ID       string
	Asks     string
	Minutes  float64 // of hands, not of waiting
	Who      Who
	Tools    string
	Caution  string // empty when nothing is to be careful of
	Outcomes []Outcome

	effect   *joint.Effect
	outlook  *joint.Prospects
	replaces []detect.Signal // a measurement that makes it needless
}

// outcome is the number of an answer, or -1.
func (c *Check) outcome(id string) int {
	return slices.IndexFunc(c.Outcomes, func(o Outcome) bool { return o.ID == id })
}

// attach works out what follows from the rates.
func (m *Model) attach() {
	p := make([]float64, len(m.rates))
	for c, rate := range m.rates {
		p[c] = -math.Expm1(-rate * m.window)
	}
	m.prior = m.space.Prior(p)
}

// Symptoms lists what people can be asked, in the table's order.
func (m *Model) Symptoms() []*Symptom { return slices.Clone(m.symptoms) }

// Checks lists all checks, in the table's order.
func (m *Model) Checks() []*Check { return slices.Clone(m.checks) }

// Check is the check of this identifier, or nil.
func (m *Model) Check(id string) *Check {
	for _, c := range m.checks {
		if c.ID == id {
			return c
		}
	}
	return nil
}

// Visible lists the kinds of findings that a home with these signals lets
// anybody see. has is asked for flow or volume at a flow point alike.
func (m *Model) Visible(has func(detect.Signal) bool) []detect.Kind {
	var kinds []detect.Kind
	for _, f := range m.findings {
		if slices.ContainsFunc(f.needs, func(set []detect.Signal) bool { return all(set, has) }) {
			kinds = append(kinds, f.kind)
		}
	}
	return kinds
}

func all(set []detect.Signal, has func(detect.Signal) bool) bool {
	for _, s := range set {
		if !has(s) {
			return false
		}
	}
	return true
}

func (m *Model) finding(k detect.Kind) *findingRow {
	if i := slices.IndexFunc(m.findings, func(f *findingRow) bool { return f.kind == k }); i >= 0 {
		return m.findings[i]
	}
	return nil
}
