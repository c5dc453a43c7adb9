package score

import (
	"cmp"
	"slices"
	"time"

	"brinebell/detect"
)

// Change is what two scores of the same homes differ in, home by home.
type Change struct {
	Found    []Pair  `json:"found"` // not found before, found now
	Lost     []Pair  `json:"lost"`  // found before, not found now
	Came     []Heard `json:"false_alarms_came"`
	Went     []Heard `json:"false_alarms_went"`
	OnlyThen int     `json:"episodes_only_then"` // episodes that one of the two does not have:
	OnlyNow  int     `json:"episodes_only_now"`  // then the scores are not of the same homes
	Before   Totals  `json:"before"`
	Now      Totals  `json:"now"`
}

// Pair is an episode as it was judged before and now.
type Pair struct {
	Before Judged `json:"before"`
	Now    Judged `json:"now"`
}

// Totals are a score in three numbers.
type Totals struct {
	Found   int     `json:"found"`
	Counted int     `json:"counted"`
	PerYear float64 `json:"false_alarms_per_home_year"`
}

// Totals sums the report up. A household that is away is not among the faults
// found and missed: nothing broke.
func (r *Report) Totals() Totals {
	t := Totals{PerYear: r.FalseAll.PerYear}
	for _, f := range r.Faults {
		if f.Fault == detect.AwayFromHome {
			continue
		}
		t.Found += f.Found
		t.Counted += f.Found + f.Missed
	}
	return t
}

// sameAlarm is how far apart two false alarms of one kind at one home may be
// raised and still be the same one, raised a little sooner or later.
const sameAlarm = 3 * day

type episodeKey struct {
	home, fault string
	start       int64
}

func keyOf(e Episode) episodeKey { return episodeKey{e.Home, string(e.Fault), e.Start.Unix()} }

// Compare says what changed from before to now.
func Compare(before, now *Report) Change {
	c := Change{Before: before.Totals(), Now: now.Totals()}
	then := map[episodeKey]Judged{}
	for _, j := range before.Episodes {
		then[keyOf(j.Episode)] = j
	}
	for _, j := range now.Episodes {
		was, known := then[keyOf(j.Episode)]
		delete(then, keyOf(j.Episode))
		switch {
		case !known:
			c.OnlyNow++
		case j.Outcome == Found && was.Outcome != Found:
			c.Found = append(c.Found, Pair{was, j})
		case j.Outcome != Found && was.Outcome == Found:
			c.Lost = append(c.Lost, Pair{was, j})
		}
	}
	c.OnlyThen = len(then)
	c.Went, c.Came = unmatched(falseOf(before, now), falseOf(now, before))
	return c
}

// falseOf are the false alarms of r at homes that the other report has too.
func falseOf(r, other *Report) []Heard {
	both := map[string]bool{}
	for _, x := range other.Exposures {
		both[x.Home] = true
	}
	var all []Heard
	for _, h := range r.Alerts {
		if h.Verdict == False && both[h.Home] {
			all = append(all, h)
		}
	}
	slices.SortStableFunc(all, func(a, b Heard) int {
		return cmp.Or(cmp.Compare(a.Home, b.Home), cmp.Compare(a.Kind, b.Kind), a.Raised.Compare(b.Raised))
	})
	return all
}

// unmatched pairs the alarms of two sorted lists off in order and returns what
// is left of each.
func unmatched(a, b []Heard) (onlyA, onlyB []Heard) {
	for len(a) > 0 && len(b) > 0 {
		switch order(a[0], b[0]) {
		case 0:
			a, b = a[1:], b[1:]
		case -1:
			onlyA, a = append(onlyA, a[0]), a[1:]
		default:
			onlyB, b = append(onlyB, b[0]), b[1:]
		}
	}
	return append(onlyA, a...), append(onlyB, b...)
}

// order is 0 for what counts as the same alarm.
func order(a, b Heard) int {
	if c := cmp.Or(cmp.Compare(a.Home, b.Home), cmp.Compare(a.Kind, b.Kind)); c != 0 {
		return c
	}
	apart := a.Raised.Sub(b.Raised)
	if apart.Abs() <= time.Duration(sameAlarm) {
		return 0
	}
	return cmp.Compare(apart, 0)
}
