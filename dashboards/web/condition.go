package web

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"brinebell/detect"
)

// level is how a home is, the worst first.
type level int

// The levels.
const (
	actNow level = iota
	thisWeek
	plan
	unheard // nothing was ever measured there
	quiet
)

// String is the level as the page's word for it.
func (l level) String() string {
	return [...]string{"Act now", "This week", "Plan", "No readings yet", "Quiet"}[l]
}

// Class is the level as the style sheet knows it.
func (l level) Class() string {
	return [...]string{"act", "week", "plan", "unheard", "quiet"}[l]
}

// condition is how one home is, in one sentence.
type condition struct {
	Level    level
	Sentence string
	More     string         // what else is open, empty for nothing
	open     []detect.Alert // the worst first
}

// conditionOf follows from the open alerts of the home alone; heard says whether
// the home has any reading.
func conditionOf(alerts []detect.Alert, heard bool) condition {
	open := openAlerts(alerts)
	switch {
	case len(open) > 0:
		c := condition{Level: level(open[0].Severity.Rank()), Sentence: summaryOf(open[0]), open: open}
		if more := len(open) - 1; more > 0 {
			c.More = "And " + counted(more, "more thing", "more things") + " to look at."
		}
		return c
	case !heard:
		return condition{Level: unheard, Sentence: "No sensor has sent a reading yet."}
	}
	return condition{Level: quiet, Sentence: "Nothing needs you."}
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

// summaryOf is what the alert says, as a sentence.
func summaryOf(a detect.Alert) string {
	text := strings.TrimSpace(a.Summary)
	if text == "" {
		text = kindTitle(a.Kind)
	}
	text = sentenceCase(text)
	if !strings.ContainsAny(text[len(text)-1:], ".!?") {
		text += "."
	}
	return unbroken.ReplaceAllString(text, "$1\u00a0$2")
}

// unbroken finds numbers with their unit, which a line must not part.
var unbroken = regexp.MustCompile(`([0-9]) (L/min|L|mm|kg|kPa|gal/min|gal|lb|in|psi|min|h|%)\b`)

// worse orders homes: level, then the age of the worst alert, then name.
func worse(a, b homeLine) int {
	return cmp.Or(cmp.Compare(a.Condition.Level, b.Condition.Level), olderFirst(a.Condition, b.Condition), strings.Compare(a.Name, b.Name))
}

func olderFirst(a, b condition) int {
	if len(a.open) == 0 || len(b.open) == 0 {
		return 0
	}
	return a.open[0].Onset.Compare(b.open[0].Onset)
}
