package care

import (
	"cmp"
	"slices"
	"time"

	"brinebell/detect"
)

// Lead is the alert nearest to the root: of those that no other explains the
// one that explains most, then the most pressing, then the oldest. It is the
// zero Alert when there is none.
func Lead(alerts []detect.Alert) detect.Alert {
	var roots []detect.Alert
	for _, a := range alerts {
		if !slices.ContainsFunc(alerts, func(b detect.Alert) bool { return explains(b, a) }) {
			roots = append(roots, a)
		}
	}
	if len(roots) == 0 {
		return detect.Alert{}
	}
	return slices.MinFunc(roots, func(a, b detect.Alert) int {
		return cmp.Or(cmp.Compare(explained(b, alerts), explained(a, alerts)), cmp.Compare(a.Severity.Rank(), b.Severity.Rank()),
			a.Onset.Compare(b.Onset), cmp.Compare(a.ID, b.ID))
	})
}

// explained counts the alerts that the root explains.
func explained(root detect.Alert, alerts []detect.Alert) (n int) {
	for _, a := range alerts {
		if explains(root, a) {
			n++
		}
	}
	return n
}

// File is a case of a home with its alerts as they are now.
type File struct {
	Case   Case
	Alerts []detect.Alert
}

// Belonging says where a new alert belongs.
type Belonging struct {
	Case  string   // empty: it opens a case of its own
	Merge []string // cases whose root it explains as well, to be joined to Case
}

// Belongs finds the case of the home that a new alert is of. Every case is tried
// by its lead alone, or cases would grow without end by effects that several
// troubles share.
//
// What the alert explains is its case, and if it explains the leads of several
// they are one case and the oldest takes the others in. An effect that several
// leads explain goes to the one whose causes it shares most. A closed case takes
// an alert back only if it is the same trouble come back.
func Belongs(a detect.Alert, files []File) (b Belonging) {
	files = slices.Clone(files)
	slices.SortStableFunc(files, func(x, y File) int { return x.began().Compare(y.began()) })
	var best File
	likeness := -1.0
	for _, f := range files {
		lead := Lead(f.Alerts)
		switch {
		case f.Case.Into != "" || lead.ID == "" || !near(a, f):
		case f.Case.Stage == Closed:
			if b.Case == "" && likeness < 0 && cameBack(a, f) {
				best, likeness = f, 0
			}
		case explains(a, lead):
			if b.Case == "" {
				b.Case = f.Case.ID
				continue
			}
			b.Merge = append(b.Merge, f.Case.ID)
		case same(a, lead) || explains(lead, a):
			if like := shared(a, lead); like > likeness || best.Case.Stage == Closed {
				best, likeness = f, like
			}
		}
	}
	switch {
	case b.Case == "":
		b.Case = best.Case.ID
	case best.Case.ID != "" && best.Case.Stage != Closed:
		b.Merge = append(b.Merge, best.Case.ID)
	}
	return b
}

// near says whether any alert of the case lies close in time.
func near(a detect.Alert, f File) bool {
	return slices.ContainsFunc(f.Alerts, func(x detect.Alert) bool { return together(a, x) })
}

// cameBack says whether an alert is of a kind that a closed case had, and began
// after it was closed or settled.
func cameBack(a detect.Alert, f File) bool {
	return slices.ContainsFunc(f.Alerts, func(x detect.Alert) bool {
		return x.Kind == a.Kind && x.Onset.Before(a.Onset) && together(a, x) && same(a, x)
	})
}

// shared is the chance that two alerts have the same cause if each has one of
// its own by its shares.
func shared(a, b detect.Alert) (sum float64) {
	for _, x := range a.Causes {
		for _, y := range b.Causes {
			if x.Cause == y.Cause {
				sum += x.Probability * y.Probability
			}
		}
	}
	return sum
}

// began is when the case's first step was; the zero time without one.
func (f File) began() (t time.Time) {
	if len(f.Case.Steps) > 0 {
		t = f.Case.Steps[0].At
	}
	return t
}
