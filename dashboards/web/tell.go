package web

import (
	"context"
	"errors"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// tellView is the page on which people tell what no sensor sees.
type tellView struct {
	ID, Name, Title string
	Symptoms        []symptomRow
	Taps            []option // hardness can be measured at these
	Unit, SaltUnit  string
	Today           string
	CanAway         bool
	CanSalt         bool
	Reports         []reportRow
	Thanks          string // after something was taken
}

func (tellView) template() string  { return "tell" }
func (v tellView) heading() string { return v.Title }

// symptomRow is one symptom to say yes or no to; unanswered is neither.
type symptomRow struct{ ID, Asks string }

// reportRow is something that was told before.
type reportRow struct{ When, Who, What string }

// hardnessTaps are where hardness can be measured.
func hardnessTaps() []detect.Signal {
	return []detect.Signal{detect.ColdHardness, detect.HotHardness, detect.RawHardness}
}

func (s *Server) tell(r *http.Request) (view, error) {
	ctx := r.Context()
	h, err := s.find(ctx, r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	if s.Cases == nil || !s.may(askerOf(ctx), care.Report, h.ID) {
		return nil, errNoPage
	}
	read := askerOf(ctx).reads(h)
	v := tellView{ID: h.ID, Name: nameOf(h), Title: read.Say("tell.title", "home", nameOf(h)), Unit: read.unit(detect.Hardness),
		SaltUnit: read.unit(detect.Mass), CanAway: s.Told.Away != nil && s.may(askerOf(ctx), care.TellAway, h.ID), CanSalt: s.Told.Salt != nil}
	for _, symptom := range cause.Standard().Symptoms() {
		v.Symptoms = append(v.Symptoms, symptomRow{symptom.ID, read.Or("symptom."+symptom.ID+".asks", symptom.Asks)})
	}
	for _, tap := range hardnessTaps() {
		v.Taps = append(v.Taps, option{tap.String(), read.Say("tap." + tap.String()), tap == detect.ColdHardness})
	}
	if now := later(s.Source.Now(h.ID), s.present()); !now.IsZero() {
		v.Today = now.In(read.loc).Format(time.DateOnly)
	}
	if r.URL.Query().Has("thanks") {
		v.Thanks = read.Say("tell.thanks")
	}
	v.Reports, err = s.reportRows(ctx, read, h.ID)
	return v, err
}

// reportsShown is how many earlier reports the page lists.
const reportsShown = 8

func (s *Server) reportRows(ctx context.Context, read reader, home string) ([]reportRow, error) {
	reports, err := s.Cases.Reports(ctx, home)
	if err != nil {
		return nil, err
	}
	var out []reportRow
	for i := len(reports) - 1; i >= 0 && len(out) < reportsShown; i-- {
		r := reports[i]
		out = append(out, reportRow{read.moment(r.At), s.name(ctx, read, r.By), read.reported(r)})
	}
	return out, nil
}

// reported says in one line what a report tells.
func (r reader) reported(rep Report) string {
	var parts []string
	for _, symptom := range cause.Standard().Symptoms() {
		if yes, told := rep.Symptoms[symptom.ID]; told {
			says := r.Or("symptom."+symptom.ID+".says", symptom.Says)
			if !yes {
				says = r.Say("tell.not", "what", says)
			}
			parts = append(parts, says)
		}
	}
	for _, tap := range hardnessTaps() {
		if v, told := rep.Hardness[tap]; told {
			parts = append(parts, r.Say("tap."+tap.String())+": "+r.amount(v, detect.Hardness))
		}
	}
	if rep.Note != "" {
		parts = append(parts, rep.Note)
	}
	return strings.Join(parts, "; ")
}

// takeSymptoms takes the answers that were given; what was not answered is not
// held to be a no.
func (s *Server) takeSymptoms(r *http.Request) (string, error) {
	h, read, err := s.telling(r)
	if err != nil {
		return "", err
	}
	rep := Report{Symptoms: map[string]bool{}, Note: strings.TrimSpace(r.PostFormValue("note"))}
	for _, symptom := range cause.Standard().Symptoms() {
		if answer := r.PostFormValue(symptom.ID); answer == "yes" || answer == "no" {
			rep.Symptoms[symptom.ID] = answer == "yes"
		}
	}
	if len(rep.Symptoms) == 0 && rep.Note == "" {
		return "", refuse(read.Say("tell.nothing"), tellLink(h.ID))
	}
	return s.takeReport(r, h.ID, rep)
}

// The hardness that a test can show, mg/L as CaCO3: strips and drop tests for
// households end far below.
const mostHardness = 5000

func (s *Server) takeHardness(r *http.Request) (string, error) {
	h, read, err := s.telling(r)
	if err != nil {
		return "", err
	}
	tap, err := detect.ParseSignal(r.PostFormValue("tap"))
	if err != nil {
		return "", refuse(read.Say("form.unread"), tellLink(h.ID))
	}
	value, ok := figure(r.PostFormValue("hardness"))
	if ok {
		value, err = read.canonical(value, detect.Hardness)
	}
	if !ok || err != nil || value < 0 || value > mostHardness {
		return "", refuse(read.Say("tell.hardness_wrong", "unit", read.unit(detect.Hardness)), tellLink(h.ID))
	}
	return s.takeReport(r, h.ID, Report{Hardness: map[detect.Signal]float64{tap: value}})
}

// figure reads a number as people write it, with a point or a comma.
func figure(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

func (s *Server) takeReport(r *http.Request, home string, rep Report) (string, error) {
	if err := s.Cases.Report(r.Context(), askerOf(r.Context()).person, home, rep); err != nil {
		return "", askerOf(r.Context()).reads(detect.Home{}).plainly(err, tellLink(home))
	}
	return tellLink(home) + "?thanks", nil
}

func tellLink(home string) string { return "/homes/" + home + "/tell" }

// telling is the home that something is told of, if the asker may tell.
func (s *Server) telling(r *http.Request) (detect.Home, reader, error) {
	h, err := s.find(r.Context(), r.PathValue("id"))
	if err == nil && (s.Cases == nil || !s.may(askerOf(r.Context()), care.Report, h.ID)) {
		err = errNoPage
	}
	return h, askerOf(r.Context()).reads(h), err
}

// plainly turns an error that is fit for a page into one that is shown.
func (r reader) plainly(err error, back string) error {
	var said plain
	switch refusal, ok := errors.AsType[*care.Refusal](err); {
	case ok:
		return refuse(r.Say("do.refused", "why", refusal.Error()), back)
	case errors.As(err, &said):
		return refuse(said.Plain(), back)
	}
	return err
}

// takeCheck takes the answer to a check.
func (s *Server) takeCheck(r *http.Request) (string, error) {
	h, read, err := s.telling(r)
	if err != nil {
		return "", err
	}
	back := "/homes/" + h.ID
	if id := r.PostFormValue("case"); id != "" {
		back = ownPath(caseLink(h.ID, url.PathEscape(id)))
	}
	rep := Report{Checks: map[string]string{r.PostFormValue("check"): r.PostFormValue("outcome")}}
	if err := s.Cases.Report(r.Context(), askerOf(r.Context()).person, h.ID, rep); err != nil {
		return "", read.plainly(err, back)
	}
	return back + "#check", nil
}

// mostAway is the longest absence that can be told, days.
const mostAway = 366

// takeAway takes an absence: whole local days, the last one included.
func (s *Server) takeAway(r *http.Request) (string, error) {
	h, err := s.find(r.Context(), r.PathValue("id"))
	if err != nil {
		return "", err
	}
	a := askerOf(r.Context())
	read, back := a.reads(h), "/homes/"+h.ID
	if s.Told.Away == nil || !s.may(a, care.TellAway, h.ID) {
		return "", errNoPage
	}
	from, errFrom := time.ParseInLocation(time.DateOnly, r.PostFormValue("from"), read.loc)
	last, errTo := time.ParseInLocation(time.DateOnly, r.PostFormValue("to"), read.loc)
	if errFrom != nil || errTo != nil || last.Before(from) || last.Sub(from) > mostAway*24*time.Hour {
		return "", refuse(read.Say("away.wrong"), back)
	}
	if err := s.Told.Away(r.Context(), a.person, h.ID, from, last.AddDate(0, 0, 1)); err != nil {
		return "", read.plainly(err, back)
	}
	return back, nil
}

// mostSalt is the largest filling that can be told, kg.
const mostSalt = 500

func (s *Server) takeSalt(r *http.Request) (string, error) {
	h, read, err := s.telling(r)
	if err != nil {
		return "", err
	}
	if s.Told.Salt == nil {
		return "", errNoPage
	}
	kg, ok := figure(r.PostFormValue("salt"))
	if ok {
		kg, err = read.canonical(kg, detect.Mass)
	}
	if !ok || err != nil || kg <= 0 || kg > mostSalt {
		return "", refuse(read.Say("tell.salt_wrong"), tellLink(h.ID))
	}
	if err := s.Told.Salt(r.Context(), askerOf(r.Context()).person, h.ID, later(s.Source.Now(h.ID), s.present()), kg); err != nil {
		return "", read.plainly(err, tellLink(h.ID))
	}
	return tellLink(h.ID) + "?thanks", nil
}
