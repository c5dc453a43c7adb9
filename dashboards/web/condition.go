package web

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
)

// level is how a home is, the worst first.
type level int

// The levels.
const (
	actNow level = iota
	thisWeek
	plan
	silent  // it spoke once, and nothing has arrived lately
	unheard // nothing was ever measured there
	quiet
)

// levels lists them all, the worst first.
func levels() []level { return []level{actNow, thisWeek, plan, silent, unheard, quiet} }

// Class is the level as the style sheet and the addresses know it.
func (l level) Class() string {
	return [...]string{"act", "week", "plan", "silent", "unheard", "quiet"}[l]
}

// Key is the level's word in the catalogue.
func (l level) Key() string { return "level." + l.Class() }

// levelOf is the level of an alert.
func levelOf(a detect.Alert) level { return level(a.Severity.Rank()) }

// condition is how one home is.
type condition struct {
	Level level
	Mute  bool           // nothing has arrived lately, whatever else is wrong
	open  []detect.Alert // the worst first
	now   time.Time      // the newest reading; zero when there is none
}

// conditionOf follows from the alerts of the home and its newest reading alone.
// wall is the present; after silentAfter without a reading a home is not quiet
// but mute. A zero wall means that the present is not known.
func conditionOf(alerts []detect.Alert, now, wall time.Time, silentAfter time.Duration) condition {
	c := condition{open: openAlerts(alerts), now: now, Level: quiet}
	c.Mute = !now.IsZero() && !wall.IsZero() && wall.Sub(now) > silentAfter
	switch {
	case len(c.open) > 0:
		c.Level = levelOf(c.open[0])
	case now.IsZero():
		c.Level = unheard
	case c.Mute:
		c.Level = silent
	}
	if c.Mute && c.Level == plan { // not being heard is the more pressing
		c.Level = silent
	}
	return c
}

// sentence says how the home is.
func (r reader) sentence(c condition) string {
	switch {
	case c.Level == silent:
		return r.Say("condition.silent", "when", r.moment(c.now))
	case len(c.open) > 0:
		return r.summary(c.open[0])
	case c.Level == unheard:
		return r.Say("condition.unheard")
	}
	return r.Say("condition.quiet")
}

// more says what the sentence leaves out.
func (r reader) more(c condition) string {
	said := min(1, len(c.open))
	if c.Level == silent {
		said = 0
	}
	var out []string
	if more := len(c.open) - said; more > 0 {
		out = append(out, r.Say("condition.more", "n", more))
	}
	if c.Mute && c.Level != silent {
		out = append(out, r.Say("condition.silent", "when", r.moment(c.now)))
	}
	return strings.Join(out, " ")
}

// openAlerts are those that stand, the most pressing and then the oldest first.
func openAlerts(alerts []detect.Alert) []detect.Alert {
	var open []detect.Alert
	for _, a := range alerts {
		if a.Open() {
			open = append(open, a)
		}
	}
	slices.SortStableFunc(open, func(a, b detect.Alert) int {
		return cmp.Or(cmp.Compare(a.Severity.Rank(), b.Severity.Rank()), a.Onset.Compare(b.Onset), strings.Compare(a.ID, b.ID))
	})
	return open
}
