package care

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
)

// Next is the case after a step; c stays as it is. The role is that of who takes
// the step, empty for the engine. A step that is not possible is a *Refusal.
// Lead is the caller's to set anew, since the steps do not tell it.
func (c Case) Next(s Step, by Role) (Case, error) {
	if err := c.check(s, by); err != nil {
		return c, err
	}
	n := c
	n.Steps = append(slices.Clone(c.Steps), s)
	if c.Stage == "" {
		n.ID, n.Lead, n.Alerts, n.Stage = s.Alert, s.Alert, []string{s.Alert}, Open
		return n, nil
	}
	if s.Alert != "" && (s.Act == Raised || s.Act == Reopened || s.Act == Updated) && !slices.Contains(n.Alerts, s.Alert) {
		n.Alerts = append(slices.Clone(c.Alerts), s.Alert)
	}
	n.settle(c, s, by)
	return n, nil
}

// settle sets stage, holder and term after the step.
func (n *Case) settle(c Case, s Step, by Role) {
	r, _ := s.Act.rule()
	if r.to != "" {
		n.Stage = r.to
	}
	switch s.Act {
	case Acknowledge:
		n.Holder, n.Due = s.By, s.Due
	case AskHouse:
		if n.Holder == "" {
			n.Holder = s.By
		}
	case AskFirm:
		n.Due = s.Due
	case Answer:
		n.answered(by)
	case Cleared:
		if slices.Contains(unsettled, c.Stage) && len(n.Standing()) == 0 {
			n.Stage = Watched
		}
	case NotTrue:
		if s.Alert != "" && len(n.Standing()) > 0 {
			n.Stage = c.Stage // there is more to the case
		}
	case Reopened:
		n.Holder, n.Into = "", ""
	case Joined:
		n.Into = s.Text
	}
	if n.Stage == Watched || n.Stage == Closed || n.Stage == Open {
		n.Due = time.Time{}
	}
}

// answered ends a waiting. A household's word does not stand for the firm's,
// while a technician may note what the household said on the telephone.
func (n *Case) answered(by Role) {
	if n.Stage == WaitingFirm && by == Household || n.Stage != WaitingFirm && n.Stage != WaitingHousehold {
		return
	}
	if n.Stage = Open; n.Holder != "" {
		n.Stage = Taken
	}
}

// Standing are the alerts of the case that are neither cleared nor said not to
// be true, as its steps tell.
func (c Case) Standing() []string {
	over := map[string]bool{}
	for _, s := range c.Steps {
		switch s.Act {
		case Raised, Reopened:
			over[s.Alert] = false
		case Cleared, NotTrue:
			over[s.Alert] = true
		}
		if s.Act == NotTrue && s.Alert == "" {
			for _, id := range c.Alerts {
				over[id] = true
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(c.Alerts), func(id string) bool { return over[id] })
}

func (c Case) check(s Step, by Role) error {
	refuse := func(format string, args ...any) error {
		return &Refusal{Act: s.Act, Stage: c.Stage, Why: fmt.Sprintf(format, args...), Instead: c.Can(by)}
	}
	r, known := s.Act.rule()
	switch {
	case !known:
		return refuse("There is no step called %q.", string(s.Act))
	case c.Stage == "" && (s.Act != Raised || s.Alert == ""):
		return refuse("A case begins with an alert.")
	case by == "" && !s.Act.ByEngine(), by != "" && !s.Act.mayTake(by):
		return refuse("It is not for %s to %s.", by.words(), s.Act.Words())
	case c.Stage != "" && !slices.Contains(r.from, c.Stage):
		return refuse("The case %s: one cannot %s now.", c.Stage.Words(), s.Act.Words())
	case s.Act == Acknowledge && c.Stage == Taken && c.Holder == s.By:
		return refuse("You have it already.")
	case needsText(s.Act) && strings.TrimSpace(s.Text) == "":
		return refuse("Say it in a few words.")
	case s.Act == Repair && !slices.Contains(detect.Causes(), s.Cause):
		return refuse("Say what was found to be the cause.")
	case s.Act.aboutAlert() && s.Alert != "" && !slices.Contains(c.Alerts, s.Alert):
		return refuse("That alert is not of this case.")
	case (s.Act == Raised || s.Act == Cleared || s.Act == Updated) && s.Alert == "":
		return refuse("The step must name its alert.")
	}
	return nil
}

func needsText(a Act) bool {
	return a == Note || a == Answer || a == AskHouse || a == AskFirm || a == Joined
}

func (a Act) aboutAlert() bool { return a == Answer || a == NotTrue || a == Cleared }

func (r Role) words() string {
	switch r {
	case "":
		return "the engine"
	case Household:
		return "a household"
	case Operator:
		return "an operator"
	}
	return "a " + string(r)
}
