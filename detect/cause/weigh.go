package cause

import (
	"fmt"
	"math"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/cause/joint"
)

// piece is one piece of evidence with its log likelihood by hypothesis.
type piece struct {
	says string
	logs []float64
	// part says that it is counted in another piece already: it is there to be
	// told, with what it adds to the rest of that piece.
	part bool
}

// pieces weighs everything in the evidence, in the table's order.
func (m *Model) pieces(e Evidence) []piece {
	var all []piece
	add := func(says string, logs []float64) { all = append(all, piece{says: says, logs: logs}) }
	for _, f := range e.Findings {
		if row := m.finding(f.Kind); row != nil {
			add(row.says+row.aside(f.Details), m.space.Raised(row.trigger(f.Details)))
		}
	}
	all = append(all, m.numbers(e)...)
	for _, k := range e.Visible {
		if row := m.finding(k); row != nil && !e.Has(k) {
			none, each := m.silence(row, e.Age.Hours()/24)
			add(row.silent, m.space.Sum(none, each))
		}
	}
	for _, s := range m.symptoms {
		if yes, asked := e.Symptoms[s.ID]; asked && yes {
			add(s.Says, s.outlook.Log(1))
		} else if asked {
			add("nobody noticed that "+s.Says, s.outlook.Log(0))
		}
	}
	if each := m.standing(e.Age); each != nil {
		add(fmt.Sprintf("it has lasted for %s", spanOf(e.Age)), m.space.Sum(0, each))
	}
	m.hardness(e, add)
	for _, c := range m.checks {
		if i := c.outcome(e.Checks[c.ID]); i >= 0 {
			add(fmt.Sprintf("%s %s", c.Asks, c.Outcomes[i].Says), c.outlook.Log(i))
		}
	}
	return all
}

// lastsHalf is the power of the age, over the time by which half have ended, with
// which fewer still stand: most end about then, some much later.
const lastsHalf = 2

// standing is the log likelihood, added by each cause, of a trouble still standing
// at this age; nil at no age.
func (m *Model) standing(age time.Duration) []float64 {
	if age <= 0 {
		return nil
	}
	each := make([]float64, len(m.lasts))
	for c, half := range m.lasts {
		if half > 0 {
			each[c] = -math.Log1p(math.Pow(age.Hours()/24/half, lastsHalf))
		}
	}
	return each
}

// spanOf writes an age in hours or days.
func spanOf(age time.Duration) string {
	if age < 48*time.Hour {
		return fmt.Sprintf("%.0f hours", age.Hours())
	}
	return fmt.Sprintf("%.0f days", age.Hours()/24)
}

func (m *Model) hardness(e Evidence, add func(string, []float64)) {
	if like := m.taps.tapsLike(e); like != nil {
		add("measured at the taps: "+m.taps.nearest(like), m.space.Log(m.taps.effect, scaled(like)))
	}
	if like := m.raw.rawLike(e); like != nil {
		add("raw water is "+m.raw.nearest(like), m.space.Log(m.raw.effect, scaled(like)))
	}
}

// nearest is the state that a measurement fits best, in words.
func (m measure) nearest(like []float64) string {
	best := 0
	for i, v := range like {
		if v > like[best] {
			best = i
		}
	}
	return m.states[best].Says
}

// scaled divides by the largest: only ratios of likelihoods count.
func scaled(like []float64) []float64 {
	top := 0.0
	for _, v := range like {
		top = math.Max(top, v)
	}
	if top == 0 { // beyond all states: it tells nothing
		top = 1
		for i := range like {
			like[i] = 1
		}
	}
	for i := range like {
		like[i] /= top
	}
	return like
}

// trigger is the finding raised with these details, for each cause and the leak.
func (f *findingRow) trigger(e detect.Evidence) joint.Trigger {
	n := len(f.chance)
	t := joint.Trigger{Chance: make([]float64, n+1), Detail: make([]float64, n+1)}
	for c, p := range f.chance {
		t.Chance[c] = p * (1 - f.missed)
	}
	t.Chance[n] = f.leak
	for c := range t.Detail {
		t.Detail[c] = 1
	}
	for i := range f.details {
		for c, v := range f.details[i].likelihood(e) {
			t.Detail[c] *= v
		}
	}
	return t
}

// silence is the log likelihood of the finding not being raised, without any
// cause and added by each: a detector that takes days is held to its silence
// only as far as it has had them, the delay taken as exponential. Silences of one
// home come together, so each counts by a share only.
func (m *Model) silence(f *findingRow, age float64) (none float64, each []float64) {
	had := 1.0
	if age > 0 {
		had = -math.Expm1(-age / f.days)
	}
	each = make([]float64, len(f.chance))
	for c, p := range f.chance {
		each[c] = m.silent * math.Log1p(-p*(1-f.missed)*had)
	}
	return m.silent * math.Log1p(-f.leak), each
}

// aside adds the details that counted, in words.
func (f *findingRow) aside(e detect.Evidence) string {
	var told []string
	for _, d := range f.details {
		if v, ok := e[d.key]; ok {
			fact, _ := FactOf(d.key)
			told = append(told, lower(fact.Name)+": "+fact.In(v))
		}
	}
	if len(told) == 0 {
		return ""
	}
	return " (" + strings.Join(told, ", ") + ")"
}

func plainKey(key string) string {
	key = strings.ReplaceAll(key, "_l_per_min", " in L/min")
	return strings.ReplaceAll(key, "_", " ")
}
