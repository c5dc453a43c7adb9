package web

import (
	"context"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// homesOnPage is how many homes that need someone one page lists; it keeps a
// page of a large firm under 100 KB.
const homesOnPage = 30

// sparkParts is the spans of a home's small picture: two hours each over a week.
const sparkParts = 84

// townView is all homes, the worst first.
type townView struct {
	Title, Sentence string
	Counts          []count
	Needing, Calm   []homeLine
	None            bool // no homes at all
	Before, After   string
}

func (townView) template() string  { return "town" }
func (v townView) heading() string { return v.Title }

// count is how many homes are at one level.
type count struct {
	Level level
	Homes int
}

// homeLine is one home among all.
type homeLine struct {
	ID, Name, Since, Newest string
	Condition               condition
	Spark                   template.HTML
	home                    detect.Home
}

func (s *Server) town(r *http.Request) (view, error) {
	alerts, err := s.Source.Alerts(r.Context(), "")
	if err != nil {
		return nil, err
	}
	lines := s.lines(alerts)
	v := townView{Title: s.Title, Sentence: townSentence(lines), Counts: counts(lines), None: len(lines) == 0}
	lines = v.turnTo(r.URL.Query().Get("page"), lines)
	for i := range lines {
		s.sketch(r.Context(), &lines[i])
		if lines[i].Condition.Level == quiet {
			v.Calm = append(v.Calm, lines[i])
		} else {
			v.Needing = append(v.Needing, lines[i])
		}
	}
	return v, nil
}

// turnTo keeps one page of the lines and says where the others are.
func (v *townView) turnTo(asked string, lines []homeLine) []homeLine {
	last := max(1, (len(lines)+homesOnPage-1)/homesOnPage)
	page, err := strconv.Atoi(asked)
	if err != nil {
		page = 1
	}
	page = min(last, max(1, page))
	if page > 1 {
		v.Before = "/?page=" + strconv.Itoa(page-1)
	}
	if page < last {
		v.After = "/?page=" + strconv.Itoa(page+1)
	}
	return lines[(page-1)*homesOnPage : min(len(lines), page*homesOnPage)]
}

// lines are all homes, the worst first.
func (s *Server) lines(alerts []detect.Alert) []homeLine {
	byHome := make(map[string][]detect.Alert)
	for _, a := range alerts {
		byHome[a.Home] = append(byHome[a.Home], a)
	}
	homes := s.Source.Homes()
	lines := make([]homeLine, len(homes))
	for i, h := range homes {
		now := s.Source.Now(h.ID)
		lines[i] = homeLine{ID: h.ID, Name: nameOf(h), Condition: conditionOf(byHome[h.ID], !now.IsZero()), home: h}
		if open := lines[i].Condition.open; len(open) > 0 {
			lines[i].Since = "since " + readerOf(h).moment(open[0].Onset)
		}
		if !now.IsZero() {
			lines[i].Newest = readerOf(h).moment(now)
		}
	}
	slices.SortStableFunc(lines, worse)
	return lines
}

func nameOf(h detect.Home) string {
	if strings.TrimSpace(h.Name) == "" {
		return h.ID
	}
	return h.Name
}

// townSentence says in one sentence how all homes are.
func townSentence(lines []homeLine) string {
	var at [quiet + 1]int
	for _, l := range lines {
		at[l.Condition.Level]++
	}
	switch needing := at[actNow] + at[thisWeek] + at[plan]; {
	case len(lines) == 0:
		return "No homes yet."
	case at[actNow] > 0:
		return sentenceCase(counted(at[actNow], "home needs", "homes need")) + " someone now."
	case at[thisWeek] > 0:
		return sentenceCase(counted(at[thisWeek], "home needs", "homes need")) + " someone this week, none now."
	case needing > 0:
		return "Nothing presses; " + counted(needing, "home has", "homes have") + " something to plan."
	case at[unheard] == len(lines):
		return "Waiting for the first readings."
	}
	return "All homes are quiet."
}

func counts(lines []homeLine) []count {
	out := make([]count, quiet+1)
	for l := range out {
		out[l].Level = level(l)
	}
	for _, l := range lines {
		out[l.Condition.Level].Homes++
	}
	return slices.DeleteFunc(out, func(c count) bool { return c.Homes == 0 })
}

// sketch draws the home's water of the last days. A home whose readings cannot
// be read just now keeps its line, without the sketch.
func (s *Server) sketch(ctx context.Context, l *homeLine) {
	now := s.Source.Now(l.ID)
	if now.IsZero() {
		return
	}
	read := readerOf(l.home)
	e := s.lastDays(now, read)
	e.parts = sparkParts
	_, points, err := s.water(ctx, l.ID, e)
	if err != nil {
		s.Logger.Error("sketch not drawn", "home", l.ID, "error", err)
		return
	}
	if len(points) == 0 {
		return
	}
	desc := "Water of the last " + strconv.Itoa(s.Days) + " days: " + read.amount(litres(points, e.step()), detect.Volume) + " in all"
	axis := chart.Axis{From: e.from, To: e.to, Location: read.loc}
	l.Spark = template.HTML(chart.Spark(axis, read.drawn(points, detect.FlowRate), desc)) // chart escapes
}

// lastDays are the local days that the pictures show, up to now. now itself is
// included.
func (s *Server) lastDays(now time.Time, read reader) extent {
	y, m, d := now.In(read.loc).Date()
	return extent{time.Date(y, m, d-s.Days+1, 0, 0, 0, 0, read.loc), now.Add(time.Second), pictureParts}
}

// water is the flow that tells a home's use best: the main's, or else what goes
// through the softener.
func (s *Server) water(ctx context.Context, home string, e extent) (detect.Signal, []Point, error) {
	points, err := s.points(ctx, home, detect.InletFlow, e)
	if err != nil || len(points) > 0 {
		return detect.InletFlow, points, err
	}
	points, err = s.points(ctx, home, detect.ServiceFlow, e)
	return detect.ServiceFlow, points, err
}
