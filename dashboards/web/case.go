package web

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// caseView is a case: its alerts with their evidence, its causes, what was done
// and what can be done.
type caseView struct {
	HomeID, HomeName, Title string
	ID                      string
	Level                   level
	Stage                   string // where it stands, in words; empty without a book of cases
	Closed                  bool
	Sentence                string
	Holder, Due             string
	Loss                    []fact
	Alerts                  []alertView
	HowSure, Standing       string
	Causes                  []causeView // the likeliest, argued
	Check                   *checkView
	History                 []stepView
	Acts                    []actView
	Confirm                 []option // the causes, to confirm one
	Version                 int64
	Proof                   *proofView
	Watch                   string
	Action, Sheet           string
}

func (caseView) template() string  { return "case" }
func (v caseView) heading() string { return v.Title }

// stepView is one thing that happened.
type stepView struct{ When, Who, What, Text string }

// actView is something that can be done now.
type actView struct {
	Act         care.Act
	Name, Hint  string
	Text, Cause bool // the form asks for words, for the cause
	Due, Must   bool // for a day; the words are required
	Main        bool
}

func (s *Server) casePage(r *http.Request) (view, error) {
	ctx := r.Context()
	h, err := s.find(ctx, r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	c, alerts, err := s.caseOf(ctx, h.ID, r.PathValue("case"))
	if err != nil {
		return nil, err
	}
	if c.Into != "" {
		return redirect(caseLink(h.ID, c.Into)), nil
	}
	read := askerOf(ctx).reads(h)
	lead := leadOf(c, alerts)
	v := caseView{HomeID: h.ID, HomeName: nameOf(h), ID: c.ID, Level: levelOf(lead), Sentence: read.summary(lead),
		Title:  read.Say("case.title", "what", read.kindTitle(lead.Kind), "home", nameOf(h)),
		Closed: c.Stage == care.Closed || c.Stage == "" && !lead.Open(), Action: caseLink(h.ID, c.ID) + "/act", Sheet: caseLink(h.ID, c.ID) + "/sheet"}
	for _, a := range alerts {
		view := s.alert(read, a)
		if view.Picture, err = s.evidencePicture(ctx, h, a, alerts); err != nil {
			return nil, err
		}
		v.Alerts = append(v.Alerts, view)
	}
	v.Alerts[0].Summary = "" // the page's head has said it
	if c.Stage != "" {
		s.addCare(ctx, &v, read, c)
	}
	if err := s.diagnose(ctx, read, &v, h, alerts); err != nil {
		return nil, err
	}
	v.Proof, err = s.proof(ctx, h, c, lead)
	return v, err
}

// caseOf is a case with its alerts, the lead first. Where no cases are kept an
// alert is a case of its own.
func (s *Server) caseOf(ctx context.Context, home, id string) (Case, []detect.Alert, error) {
	all, err := s.Source.Alerts(ctx, home)
	if err != nil {
		return Case{}, nil, err
	}
	c, found := Case{}, false
	if s.Cases != nil {
		if c, found, err = s.Cases.Case(ctx, id); err != nil {
			return Case{}, nil, err
		}
		found = found && c.Home == home
	}
	if !found {
		c = Case{Case: care.Case{ID: id, Home: home, Lead: id, Alerts: []string{id}}}
	}
	var alerts []detect.Alert
	for _, a := range all {
		if slices.Contains(c.Alerts, a.ID) {
			alerts = append(alerts, a)
		}
	}
	if len(alerts) == 0 && c.Into == "" {
		return Case{}, nil, errNoCase
	}
	slices.SortStableFunc(alerts, func(x, y detect.Alert) int {
		return cmp.Or(-cmp.Compare(rank(x.ID == c.Lead), rank(y.ID == c.Lead)), -cmp.Compare(rank(x.Open()), rank(y.Open())), x.Onset.Compare(y.Onset))
	})
	return c, alerts, nil
}

func rank(first bool) int {
	if first {
		return 1
	}
	return 0
}

func leadOf(c Case, alerts []detect.Alert) detect.Alert {
	if len(alerts) == 0 {
		return detect.Alert{Kind: c.Kind, Severity: c.Severity}
	}
	return alerts[0]
}

// addCare adds where the case stands, what happened and what can be done.
func (s *Server) addCare(ctx context.Context, v *caseView, read reader, c Case) {
	v.Stage, v.Version = read.Or("stage."+string(c.Stage), string(c.Stage)), c.Version
	v.Holder = s.name(ctx, read, c.Holder)
	if !c.Due.IsZero() {
		v.Due = read.day(c.Due)
	}
	v.Loss = read.loss(c.Loss)
	if c.Watch != nil {
		v.Watch = read.Say("watch.state", "since", read.day(c.Watch.Since), "nights", c.Watch.QuietNights, "of_nights", c.Watch.Nights,
			"right", c.Watch.RightRegenerations, "of_right", c.Watch.Regenerations, "until", read.day(c.Watch.Until))
	}
	for _, step := range slices.Backward(c.Steps) {
		v.History = append(v.History, s.step(ctx, read, step))
	}
	v.Acts = read.acts(c, askerOf(ctx), s.Viewer == nil)
	if slices.ContainsFunc(v.Acts, func(a actView) bool { return a.Cause }) {
		v.Confirm = s.causeOptions(read, c.Cause)
	}
}

// loss says what a day of waiting costs, part by part.
func (r reader) loss(l care.Loss) []fact {
	var out []fact
	add := func(key string, amount float64, value string) {
		if amount > 0 {
			out = append(out, fact{Name: r.Say(key), Value: value})
		}
	}
	add("loss.day", l.PerDay, r.money(l.PerDay, l.Currency))
	add("loss.water", l.Water, r.about(l.Water, detect.Volume))
	add("loss.salt", l.Salt, r.amount(l.Salt, detect.Mass))
	add("loss.hard", l.Hard, r.about(l.Hard, detect.Volume))
	add("loss.damage", l.Damage, r.money(l.Damage, l.Currency))
	return out
}

func (s *Server) step(ctx context.Context, read reader, step care.Step) stepView {
	v := stepView{When: read.moment(step.At), Who: s.name(ctx, read, step.By), What: read.Or("act."+string(step.Act), string(step.Act)), Text: step.Text}
	switch {
	case step.Act == care.Answer:
		v.Text = read.answer(step.Text)
	case step.Cause != "":
		title := read.causeText(s.CauseText(step.Cause), step.Cause).Title
		if v.Text == "" {
			v.Text = title
		} else {
			v.Text = title + ": " + v.Text
		}
	case step.Act == "joined":
		v.Text = ""
	}
	return v
}

// causeOptions are all causes to choose from, the one now first chosen.
func (s *Server) causeOptions(read reader, first detect.Cause) []option {
	var out []option
	for _, id := range detect.Causes() {
		out = append(out, option{string(id), read.causeText(s.CauseText(id), id).Title, id == first})
	}
	return out
}

// acts are what the asker may do now, the next step first.
func (r reader) acts(c Case, a asker, everybody bool) []actView {
	role := a.person.Role
	if everybody {
		role = care.Manager
	}
	var out []actView
	for _, act := range c.Can(role) {
		if act == care.Answer { // belongs to a question, and stands with it
			continue
		}
		v := actView{Act: act, Name: r.Or("do."+string(act), string(act)), Hint: r.Or("do."+string(act)+".hint", "")}
		switch act {
		case care.Note, care.AskHouse, care.AskFirm:
			v.Text, v.Must = true, true
		case care.Repair:
			v.Cause, v.Text = true, true
		}
		v.Due = act == care.Acknowledge || act == care.AskFirm
		out = append(out, v)
	}
	if len(out) > 0 {
		out[0].Main = true
	}
	return out
}

// act does what the form says.
func (s *Server) act(r *http.Request) (string, error) {
	ctx := r.Context()
	h, err := s.find(ctx, r.PathValue("id"))
	if err != nil {
		return "", err
	}
	c, _, err := s.caseOf(ctx, h.ID, r.PathValue("case"))
	if err != nil {
		return "", err
	}
	if s.Cases == nil || c.Stage == "" {
		return "", errNoCase
	}
	a, back := askerOf(ctx), caseLink(h.ID, c.ID)
	d, err := doingOf(r, a.reads(h))
	if err != nil {
		return "", refuse(a.speech().Say("form.unread"), back)
	}
	if err := s.Cases.Act(ctx, a.person, c.ID, d); err != nil {
		return "", a.reads(h).plainly(err, back)
	}
	if d.Act == care.Answer {
		return "/homes/" + h.ID + "#alert-" + d.Alert, nil
	}
	return back + "#history", nil
}

// doingOf reads the form of an act.
func doingOf(r *http.Request, read reader) (Doing, error) {
	d := Doing{Act: care.Act(r.PostFormValue("act")), Alert: r.PostFormValue("alert"), Cause: detect.Cause(r.PostFormValue("cause")), Text: r.PostFormValue("text")}
	if v, ok := figure(r.PostFormValue("version")); ok {
		d.Version = int64(v)
	}
	if d.Act != care.Repair {
		d.Cause = ""
	}
	if due := r.PostFormValue("due"); due != "" {
		day, err := time.ParseInLocation(time.DateOnly, due, read.loc)
		if err != nil {
			return d, err
		}
		d.Due = day
	}
	return d, nil
}
