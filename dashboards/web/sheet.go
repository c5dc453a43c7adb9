package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// sheetView is what a technician takes along, on paper or a telephone.
type sheetView struct {
	HomeID, HomeName, Title string
	Case, Back              string
	Sentence, Printed       string
	Causes                  []lookView
	Checks                  []checkView
	Parts, Tools, Cautions  []string
	Settings                []fact
	Advice                  *adviceView
	Salt                    gauge
}

func (sheetView) template() string  { return "sheet" }
func (v sheetView) heading() string { return v.Title }

// lookView is a cause with what to look at.
type lookView struct {
	Title, Look string
	Percent     int
}

// The causes that a sheet names.
const (
	sheetCauses = 3
	sheetLeast  = 0.05
)

// sheetChecks is how many checks a sheet lists.
const sheetChecks = 5

func (s *Server) sheet(r *http.Request) (view, error) {
	ctx := r.Context()
	h, err := s.find(ctx, r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	c, alerts, err := s.caseOf(ctx, h.ID, r.PathValue("case"))
	if err != nil {
		return nil, err
	}
	read, lead := askerOf(ctx).reads(h), leadOf(c, alerts)
	v := sheetView{HomeID: h.ID, HomeName: nameOf(h), Title: read.Say("sheet.title", "home", nameOf(h)), Case: c.ID, Back: caseLink(h.ID, c.ID),
		Sentence: read.summary(lead), Printed: read.moment(later(s.Source.Now(h.ID), s.present())), Settings: read.programmed(h)}
	for _, a := range alerts {
		v.Cautions = addOnce(v.Cautions, read.figured(read.kindCaution(a.Kind)))
	}
	if err := s.addCauses(ctx, read, &v, h, alerts); err != nil {
		return nil, err
	}
	if b, ok := s.Source.Books(ctx, h.ID); ok {
		v.Advice, v.Salt = read.advice(h, b), read.salt(b)
	}
	return v, nil
}

// addCauses adds the likeliest causes with what they call for, and the checks
// that tell most, in the order in which to make them.
func (s *Server) addCauses(ctx context.Context, read reader, v *sheetView, h detect.Home, alerts []detect.Alert) error {
	w, err := s.weigh(ctx, h, alerts, cause.Technician)
	if err != nil {
		return err
	}
	for i, c := range w.shares {
		if i == sheetCauses || c.Probability < sheetLeast {
			break
		}
		text := read.causeText(s.CauseText(c.Cause), c.Cause)
		v.Causes = append(v.Causes, lookView{text.Title, text.Technician, percent(c.Probability)})
		v.Cautions = addOnce(v.Cautions, text.Caution)
		v.Parts, v.Tools = addOnce(v.Parts, strings.Split(text.Parts, ", ")...), addOnce(v.Tools, strings.Split(text.Tools, ", ")...)
	}
	session := cause.NewSession(cause.Standard(), w.evidence, cause.Technician)
	for len(v.Checks) < sheetChecks {
		step := session.Step()
		if step.Next == nil {
			break
		}
		check := read.check(step.Next.Check)
		v.Checks = append(v.Checks, *check)
		v.Cautions = addOnce(v.Cautions, check.Caution)
		session.Skip(check.ID)
	}
	return nil
}

// addOnce adds what is not there yet.
func addOnce(list []string, more ...string) []string {
	for _, m := range more {
		if m != "" && !slices.Contains(list, m) {
			list = append(list, m)
		}
	}
	return list
}

// programmed is how the softener is set, as the home's profile has it.
func (r reader) programmed(h detect.Home) []fact {
	s := h.Softener
	out := []fact{
		{Name: r.Say("set.hardness"), Value: r.amount(h.Water.Hardness, detect.Hardness)},
		{Name: r.Say("set.iron"), Value: r.amount(h.Water.Iron, detect.Concentration)},
		{Name: r.Say("set.resin"), Value: r.amount(s.Resin, detect.Volume)},
		{Name: r.Say("advice.capacity"), Value: r.Rounded(s.Capacity, 2) + space + "eq/L"},
		{Name: r.Say("advice.dose"), Value: r.amount(s.SaltDose, detect.Mass)},
		{Name: r.Say("advice.reserve"), Value: r.share(s.Reserve)},
		{Name: r.Say("set.control"), Value: r.Or("control."+string(s.Control), string(s.Control))},
		{Name: r.Say("set.hour"), Value: r.hourName(int(s.RegenerationTime.Hours()))},
		{Name: r.Say("advice.override"), Value: r.Say("span.days", "n", s.DaysOverride)},
	}
	for _, p := range s.Cycle {
		out = append(out, fact{Name: r.phaseName(p.Phase), Value: r.span(p.Duration) + ", " + r.amount(p.Flow, detect.FlowRate)})
	}
	return out
}
