package web

import (
	"context"

	"brinebell/detect"
	"brinebell/detect/cause"
)

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

// weighed is what is known of a case's causes.
type weighed struct {
	shares   []detect.CauseShare // to be shown, the likeliest first
	found    cause.Diagnosis     // with what weighs for and against
	evidence cause.Evidence
	told     bool // people have reported or checked something
}

// weigh weighs the causes of a case. The shares are those of the lead alert, as
// everywhere, until people have reported or checked something: then they are
// those of all that is known.
func (s *Server) weigh(ctx context.Context, h detect.Home, alerts []detect.Alert, who cause.Who) (weighed, error) {
	e, err := s.evidence(ctx, h, alerts)
	if err != nil || len(alerts) == 0 {
		return weighed{}, err
	}
	w := weighed{shares: ranked(alerts[0]), found: cause.Standard().Diagnose(e, who), evidence: e}
	if w.told = len(e.Symptoms)+len(e.Hardness)+len(e.Checks) > 0; w.told {
		w.shares = likeliest(w.found)
	}
	return w, nil
}

// diagnose argues the likeliest causes and names the check that tells most.
// Nothing is argued of a case that is over.
func (s *Server) diagnose(ctx context.Context, read reader, v *caseView, h detect.Home, alerts []detect.Alert) error {
	lead := v.Alerts[0]
	v.HowSure, v.Standing, v.Causes = lead.HowSure, lead.Standing, lead.Causes
	if len(openAlerts(alerts)) == 0 {
		return nil
	}
	who := cause.Technician
	if askerOf(ctx).household() {
		who = cause.Household
	}
	w, err := s.weigh(ctx, h, alerts, who)
	if err != nil {
		return err
	}
	if w.told {
		told := alerts[0]
		told.Causes = w.shares
		all := s.alert(read, told)
		v.HowSure, v.Standing, v.Causes = all.HowSure, all.Standing, all.Causes
	}
	for i, share := range w.shares {
		for _, c := range w.found.Causes {
			if c.Cause == share.Cause {
				v.Causes[i].For, v.Causes[i].Against = read.weights(c.For), read.weights(c.Against)
			}
		}
	}
	if w.found.Next != nil {
		v.Check = read.check(w.found.Next.Check)
	}
	return nil
}

// likeliest are the causes worth naming of a diagnosis.
func likeliest(d cause.Diagnosis) []detect.CauseShare {
	var a detect.Alert
	for _, c := range d.Causes {
		a.Causes = append(a.Causes, detect.CauseShare{Cause: c.Cause, Probability: c.Probability})
	}
	return ranked(a)
}

func (r reader) weights(all []cause.Weight) []string {
	var out []string
	for _, w := range all {
		out = append(out, r.weight(w))
	}
	return out
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
