package score

import (
	"cmp"
	"slices"
	"time"

	"brinebell/detect"
)

// early is by how much a sensor's clock and the closing of a minute may make an
// alert seem to come before its cause.
const early = 5 * time.Minute

// clockEarly is early where the fault itself may be a clock that went astray.
const clockEarly = 24 * time.Hour

// matcher judges one home.
type matcher struct {
	rules  map[detect.Cause]Rule
	alerts []detect.Alert // in order of raising
	sight  *Sight
	flow   func(detect.Cause, float64) float64
	until  time.Time // end of watching; zero when not known
}

// rulesByCause is the table for looking up.
func rulesByCause() map[detect.Cause]Rule {
	all := map[detect.Cause]Rule{}
	for _, r := range Rules() {
		all[r.Cause] = r
	}
	return all
}

// sinceOnset says whether an instant is not before the episode.
func sinceOnset(e Episode, at time.Time) bool {
	slack := early
	if e.Fault == detect.SensorFault {
		slack = clockEarly
	}
	return !at.Before(e.Start.Add(-slack))
}

// finds says whether the alert says what is wrong, late or not.
func (r Rule) finds(e Episode, a detect.Alert) bool {
	if r.foretells(e, a) {
		return true
	}
	return slices.Contains(r.Finds, a.Kind) && sinceOnset(e, a.Raised) && !a.Raised.After(e.End.Add(r.Grace))
}

// foretells says whether the alert is a forecast of the episode that still stood
// when it came.
func (r Rule) foretells(e Episode, a detect.Alert) bool {
	return slices.Contains(r.Forecasts, a.Kind) && a.Raised.Before(e.Start) && !a.Raised.Before(e.Start.Add(-r.Ahead)) &&
		(a.Open() || a.Cleared.After(e.Start))
}

// follows says whether the alert is a consequence of the episode.
func (r Rule) follows(e Episode, a detect.Alert) bool {
	if !sinceOnset(e, a.Raised.Add(r.Lead)) || a.Raised.After(e.End.Add(r.Aftermath)) {
		return false
	}
	return a.Kind == detect.Unusual || slices.Contains(r.Follows, a.Kind) || slices.Contains(r.Finds, a.Kind) ||
		a.Severity == detect.Plan && slices.Contains(r.Questions, a.Kind)
}

// judge gives every episode its outcome and every alert its verdict.
func (m *matcher) judge(episodes []Episode) ([]Judged, []Heard) {
	slices.SortStableFunc(m.alerts, func(a, b detect.Alert) int {
		return cmp.Or(a.Raised.Compare(b.Raised), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
	})
	judged := make([]Judged, len(episodes))
	credited := make([]bool, len(m.alerts))
	for i, e := range episodes {
		judged[i] = m.find(e, credited)
	}
	for i := range judged {
		if judged[i].Outcome == Missed {
			m.excuse(&judged[i], episodes, credited)
		}
	}
	return judged, m.hear(episodes, credited)
}

// find looks for the alerts that belong to an episode.
func (m *matcher) find(e Episode, credited []bool) Judged {
	j := Judged{Episode: e, Outcome: Missed}
	rule := m.rules[e.Fault]
	seen := map[detect.Kind]bool{}
	for i, a := range m.alerts {
		if !rule.finds(e, a) {
			continue
		}
		credited[i] = true
		if seen[a.Kind] {
			j.Repeats++
		}
		seen[a.Kind] = true
		if j.Alert == "" {
			j.by(a, rule)
		}
	}
	return j
}

// by takes down the first alert that found the episode.
func (j *Judged) by(a detect.Alert, rule Rule) {
	delay := max(0, a.Raised.Sub(j.Start))
	j.Alert, j.Kind, j.Delay, j.Outcome = a.ID, a.Kind, delay.Hours(), Found
	if delay > rule.Delay {
		j.Outcome = Late
	}
	for i, c := range a.Causes {
		if c.Cause == j.Fault {
			j.Rank = i + 1
			return
		}
	}
}

// excuse looks for a reason why an episode that nothing found does not count as
// missed.
func (m *matcher) excuse(j *Judged, all []Episode, credited []bool) {
	rule := m.rules[j.Fault]
	if why := m.blind(j.Episode, rule); why != "" {
		j.Outcome, j.Why = NotVisible, why
		return
	}
	for i, a := range m.alerts {
		stood := a.Raised.Before(j.Start) && (a.Open() || a.Cleared.After(j.Start))
		if credited[i] && stood && slices.Contains(rule.Finds, a.Kind) && m.another(j.Episode, a, all) {
			j.Outcome = Masked
			return
		}
	}
	if !m.until.IsZero() && !j.End.Before(m.until) && m.until.Sub(j.Start) < rule.Delay {
		j.Outcome = Undecided
	}
}

// another says whether the alert finds another episode than e.
func (m *matcher) another(e Episode, a detect.Alert, all []Episode) bool {
	return slices.ContainsFunc(all, func(o Episode) bool { return o != e && m.rules[o.Fault].finds(o, a) })
}

func (m *matcher) hear(episodes []Episode, credited []bool) []Heard {
	heard := make([]Heard, len(m.alerts))
	for i, a := range m.alerts {
		v := False
		if credited[i] {
			v = Right
		} else if slices.ContainsFunc(episodes, func(e Episode) bool { return m.rules[e.Fault].follows(e, a) }) {
			v = Consequence
		}
		heard[i] = Heard{a.Home, a.ID, a.Kind, a.Severity, a.Raised.UTC(), v}
	}
	return heard
}
