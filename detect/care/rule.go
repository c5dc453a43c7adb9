package care

import (
	"slices"
	"strings"
)

// rule says at which stages an act is possible and where it leads.
type rule struct {
	act  Act
	from []Stage
	to   Stage // empty: the case stays where it is
}

var unsettled = []Stage{Open, Taken, WaitingHousehold, WaitingFirm}

// rules is what can happen to a case. What depends on more than the stage is in
// Next: answers end a waiting, an alert cleared may be the last, a false alarm
// may be one alert of several.
var rules = [...]rule{
	// act          from                                            to
	{Acknowledge, unsettled, Taken},
	{AskHouse, unsettled, WaitingHousehold},
	{AskFirm, unsettled, WaitingFirm},
	{Repair, with(unsettled, Watched), Watched}, // once more while watched: it was another cause
	{Note, Stages(), ""},
	{Answer, unsettled, ""},
	{NotTrue, with(unsettled, Watched), Closed},
	{Close, with(unsettled, Watched), Closed},
	{Reopened, []Stage{Watched, Closed}, Open},
	{Raised, with(unsettled, Watched), ""}, // while watched: an after-effect of what was repaired
	{Updated, Stages(), ""},
	{Cleared, Stages(), ""},
	{Held, []Stage{Watched}, Closed},
	{Joined, with(unsettled, Watched), Closed},
}

func with(stages []Stage, more ...Stage) []Stage { return append(slices.Clone(stages), more...) }

func (a Act) rule() (rule, bool) {
	for _, r := range rules {
		if r.act == a {
			return r, true
		}
	}
	return rule{}, false
}

// ByPeople says whether people take this step.
func (a Act) ByPeople() bool {
	switch a {
	case Raised, Updated, Cleared, Held, Joined:
		return false
	}
	_, known := a.rule()
	return known
}

// ByEngine says whether the engine takes this step.
func (a Act) ByEngine() bool { return a == Reopened || a != "" && !a.ByPeople() }

// Needs is what a person must be allowed at the home to take this step. To say
// that something was repaired, was not true or came back is to report: the watch
// checks the one, and the other costs nothing. To close a case that still stands
// is to settle it.
func (a Act) Needs() Action {
	switch a {
	case Acknowledge, AskHouse, AskFirm:
		return Take
	case Close:
		return Settle
	}
	return Report
}

// mayTake says whether the role has anything to do with the act; a household
// asks the firm, not itself.
func (a Act) mayTake(r Role) bool {
	if r == Household && a == AskHouse {
		return false
	}
	return a.ByPeople() && r.Reach(a.Needs()) != Nowhere
}

// Can lists what a person of this role may do now, in the order of the acts.
func (c Case) Can(r Role) []Act {
	var out []Act
	for _, rule := range rules {
		if rule.act.mayTake(r) && slices.Contains(rule.from, c.Stage) {
			out = append(out, rule.act)
		}
	}
	return out
}

// Refusal says why a step was not taken and what is possible instead. It is fit
// to be read by the one who tried.
type Refusal struct {
	Act     Act
	Stage   Stage
	Why     string // a sentence
	Instead []Act  // what this person may do now
}

// Error is the sentence and what is possible.
func (r *Refusal) Error() string {
	if len(r.Instead) == 0 {
		return r.Why
	}
	words := make([]string, len(r.Instead))
	for i, a := range r.Instead {
		words[i] = a.Words()
	}
	return r.Why + " Possible now: " + strings.Join(words, ", ") + "."
}

// Plain is the same, for a page.
func (r *Refusal) Plain() string { return r.Error() }

// Words is what a person does by this act.
func (a Act) Words() string {
	switch a {
	case Acknowledge:
		return "take it"
	case AskHouse:
		return "ask the household"
	case AskFirm:
		return "ask the firm"
	case Repair:
		return "say that it is repaired"
	case Note:
		return "add a note"
	case Answer:
		return "answer"
	case NotTrue:
		return "say that nothing was wrong"
	case Close:
		return "close it"
	case Reopened:
		return "open it again"
	}
	return strings.ReplaceAll(string(a), "_", " ")
}

// Words is the stage in a sentence that begins with "the case".
func (s Stage) Words() string {
	switch s {
	case Open:
		return "is open"
	case Taken:
		return "is in somebody's hands"
	case WaitingHousehold:
		return "waits for the household"
	case WaitingFirm:
		return "waits for the firm"
	case Watched:
		return "is watched"
	case Closed:
		return "is closed"
	}
	return "has not begun"
}
