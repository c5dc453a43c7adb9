package web

import (
	"context"
	"slices"

	"brinebell/detect"
	"brinebell/detect/care"
)

// todo is what somebody should do about an alert, why, and how sure that is.
type todo struct {
	ID       string
	Level    level
	What     string // the finding in a few words
	Summary  string // empty where the page's head has said it
	Since    string
	Cause    string
	Do       string
	HowSure  string
	Cautions []string
	Link     string // to the case
	Question *question
}

// question is what only the household knows, answered in one tap.
type question struct {
	Text, Action, Alert, Answered string
}

// todos are the open alerts, each with what to do.
func (s *Server) todos(ctx context.Context, read reader, h detect.Home, cond condition) ([]todo, error) {
	cases, err := s.casesOf(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	out := make([]todo, 0, len(cond.open))
	for i, a := range cond.open {
		v := s.alert(read, a)
		t := todo{ID: v.ID, Level: v.Level, What: v.What, Summary: v.Summary, Since: v.Since, HowSure: v.HowSure, Cautions: v.Cautions, Link: caseLink(h.ID, a.ID)}
		if len(v.Causes) > 0 {
			t.Cause, t.Do = v.Causes[0].Title, v.Causes[0].Household
		}
		if i == 0 && cond.Level != silent { // the page's head has said it
			t.Summary = ""
		}
		t.Question = s.question(ctx, read, h.ID, a, cases)
		out = append(out, t)
	}
	return out, nil
}

// casesOf are a home's open cases.
func (s *Server) casesOf(ctx context.Context, home string) ([]Case, error) {
	if s.Cases == nil {
		return nil, nil
	}
	return s.Cases.Open(ctx, []string{home})
}

// question asks what the alert's kind leaves open, if it can be answered here.
func (s *Server) question(ctx context.Context, read reader, home string, a detect.Alert, cases []Case) *question {
	text := read.Or("question."+string(a.Kind), "")
	i := slices.IndexFunc(cases, func(c Case) bool { return slices.Contains(c.Alerts, a.ID) })
	if text == "" || i < 0 || !s.may(askerOf(ctx), care.Report, home) {
		return nil
	}
	q := &question{Text: text, Action: caseLink(home, cases[i].ID) + "/act", Alert: a.ID}
	full, ok, err := s.Cases.Case(ctx, cases[i].ID)
	if err != nil || !ok {
		return q // asked again is better than not asked
	}
	for _, step := range slices.Backward(full.Steps) {
		if step.Act == care.Answer && step.Alert == a.ID {
			q.Answered = read.Say("question.answered", "answer", read.answer(step.Text), "when", read.moment(step.At))
			break
		}
	}
	return q
}

// answer is what was answered, in the reader's language where it was one tap.
func (r reader) answer(text string) string { return r.Or("answer."+text, text) }

// caseLink is the address of a case, or of an alert's.
func caseLink(home, id string) string { return "/homes/" + home + "/cases/" + id }
