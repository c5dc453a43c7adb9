package web

import (
	"context"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// reasonView is a cause with what speaks for it and against it.
type reasonView struct {
	Title        string
	Percent      int
	For, Against []string
}

// checkView is a check to make, and what each answer would mean.
type checkView struct {
	ID, Asks, Who string
	Minutes       string
	Tools         string
	Caution       string
	Outcomes      []outcomeView
	Told          string // an answer that was given before
}

// outcomeView is one answer to a check.
type outcomeView struct{ ID, Says, Means string }

// Weigher tells what is known of a home for weighing causes: open findings,
// what was reported, checks made. A Cases that can tell it implements it.
type Weigher interface {
	Evidence(ctx context.Context, home string) (cause.Evidence, error)
}

// reasonsShown is how many causes are argued, and least how likely.
const (
	reasonsShown = 3
	reasonLeast  = 0.05
)

// diagnosis argues the likeliest causes of all that is open at the home, and
// names the check that tells most. It says nothing of a case that is over.
func (s *Server) diagnosis(ctx context.Context, read reader, h detect.Home, alerts []detect.Alert) ([]reasonView, *checkView, error) {
	if len(openAlerts(alerts)) == 0 {
		return nil, nil, nil
	}
	e, err := s.evidence(ctx, h, alerts)
	if err != nil {
		return nil, nil, err
	}
	who := cause.Technician
	if askerOf(ctx).household() {
		who = cause.Household
	}
	found := cause.Standard().Diagnose(e, who)
	var out []reasonView
	for i, c := range found.Causes {
		if i == reasonsShown || c.Probability < reasonLeast {
			break
		}
		v := reasonView{Title: read.causeText(s.CauseText(c.Cause), c.Cause).Title, Percent: percent(c.Probability)}
		for _, w := range c.For {
			v.For = append(v.For, read.weight(w))
		}
		for _, w := range c.Against {
			v.Against = append(v.Against, read.weight(w))
		}
		out = append(out, v)
	}
	if found.Next == nil {
		return out, nil, nil
	}
	return out, read.check(found.Next.Check), nil
}

// evidence is all that is known of the home.
func (s *Server) evidence(ctx context.Context, h detect.Home, alerts []detect.Alert) (cause.Evidence, error) {
	var e cause.Evidence
	if w, ok := s.Cases.(Weigher); ok {
		var err error
		if e, err = w.Evidence(ctx, h.ID); err != nil {
			return e, err
		}
	} else {
		for _, a := range openAlerts(alerts) {
			e.Findings = append(e.Findings, cause.Finding{Kind: a.Kind, Details: a.Evidence})
		}
	}
	there := s.heard(ctx, h.ID, s.Source.Now(h.ID))
	e.Visible = cause.Standard().Visible(func(signal detect.Signal) bool { return there[signal] })
	if open := openAlerts(alerts); len(open) > 0 {
		e.Age = s.Source.Now(h.ID).Sub(open[len(open)-1].Onset)
	}
	return e.WithProfile(h.Water), nil
}

// weight says how a piece of evidence bears on a cause.
func (r reader) weight(w cause.Weight) string {
	switch {
	case w.Ratio >= 10:
		return r.Say("weight.strong", "evidence", r.figured(w.Says))
	case w.Ratio >= 1.5 || w.Ratio <= 0.67 && w.Ratio > 0.1:
		return r.Say("weight.some", "evidence", r.figured(w.Says))
	case w.Ratio <= 0.1:
		return r.Say("weight.strong", "evidence", r.figured(w.Says))
	}
	return r.Say("weight.little", "evidence", r.figured(w.Says))
}

// check is a check in the reader's language.
func (r reader) check(c *cause.Check) *checkView {
	key := "check." + c.ID
	v := &checkView{ID: c.ID, Asks: r.figured(r.Or(key+".asks", c.Asks)), Who: r.Say("who." + string(c.Who)), Minutes: r.Say("span.minutes", "n", int(c.Minutes)),
		Caution: r.figured(r.Or(key+".caution", c.Caution))}
	if c.Tools != "none" {
		v.Tools = r.Or(key+".tools", c.Tools)
	}
	for _, o := range c.Outcomes {
		v.Outcomes = append(v.Outcomes, outcomeView{o.ID, r.Or(key+"."+o.ID, o.Says), r.Or(key+"."+o.ID+".means", o.Means)})
	}
	return v
}
