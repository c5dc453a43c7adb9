package web

import (
	"context"
	"net/http"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// The bounds of what a home's page lists.
const (
	earlierShown       = 10
	regenerationsShown = 5
)

// homeView is one home: how it is, what to do, what is left, its water, its
// regenerations.
type homeView struct {
	ID, Name, Newest string
	Level            level
	Sentence, More   string
	Regenerated      string // about the newest regeneration
	Todos            []todo
	Gauges           []gauge
	Account          []fact
	Water            []barsView
	Advice           *adviceView
	LastDays         string // their heading
	Pictures         []pictureView
	Rows             []regenerationRow
	Earlier          []earlierView
	Blind            []string
	CanTell, CanAway bool
	Away             string // an absence that was told and is not over
	Today            string // for the form of absences
	SetUp            string // the address at which the asker can set it up, or empty
}

func (homeView) template() string  { return "home" }
func (v homeView) heading() string { return v.Name }

// earlierView is an alert that is over.
type earlierView struct{ What, Summary, From, Lasted, Link string }

func (s *Server) home(r *http.Request) (view, error) {
	ctx := r.Context()
	h, err := s.find(ctx, r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	a := askerOf(ctx)
	read, now, wall := a.reads(h), s.Source.Now(h.ID), s.present()
	alerts, err := s.Source.Alerts(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	cond := conditionOf(alerts, now, wall, s.SilentAfter)
	v := homeView{ID: h.ID, Name: nameOf(h), Level: cond.Level, Sentence: read.sentence(cond), More: read.more(cond),
		Earlier: read.earlier(h.ID, alerts), CanTell: s.Cases != nil && s.may(a, care.Report, h.ID),
		CanAway:  s.Told.Away != nil && s.may(a, care.TellAway, h.ID),
		LastDays: read.Say("home.days", "n", s.Days)}
	if s.SetUp && s.may(a, care.SetUpHome, h.ID) {
		v.SetUp = "/homes/" + h.ID + setUpPath
	}
	if v.Todos, err = s.todos(ctx, read, h, cond); err != nil {
		return nil, err
	}
	v.addAway(read, h, later(now, wall))
	if now.IsZero() {
		return v, nil
	}
	v.Newest = read.moment(now)
	return v, s.addMeasured(ctx, &v, h, alerts, now)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// addMeasured adds what the home's readings and books tell.
func (s *Server) addMeasured(ctx context.Context, v *homeView, h detect.Home, alerts []detect.Alert, now time.Time) error {
	read := askerOf(ctx).reads(h)
	e := s.lastDays(now, read)
	records, err := s.Source.Regenerations(ctx, h.ID, now.AddDate(0, 0, -regenerationDays), e.to)
	if err != nil {
		return err
	}
	v.Regenerated = read.newestRegeneration(records)
	for _, rec := range slices.Backward(records[max(0, len(records)-regenerationsShown):]) {
		v.Rows = append(v.Rows, read.row(h.ID, rec))
	}
	if b, ok := s.Source.Books(ctx, h.ID); ok {
		v.Gauges = []gauge{read.soft(b), read.salt(b), read.today(b)}
		v.Gauges[1].More += " " + read.buy(b)
		v.Account = read.account(b)
		v.Water = append(v.Water, read.days(b))
		v.Advice = read.advice(h, b)
	}
	bars, err := s.hourBars(ctx, read, h, now)
	if err != nil {
		s.Logger.Error("hours not drawn", "home", h.ID, "error", err)
	}
	v.Water = append(v.Water, bars...)
	v.Pictures = s.lastDaysPictures(ctx, h, e, alerts, since(records, e.from))
	v.Blind = read.blindSpots(h, s.heard(ctx, h.ID, now))
	return nil
}

// since keeps the regenerations that began from then on.
func since(records []Regeneration, from time.Time) []Regeneration {
	i := slices.IndexFunc(records, func(r Regeneration) bool { return !r.Start.Before(from) })
	if i < 0 {
		return nil
	}
	return records[i:]
}

// lastDays are the local days that the pictures show, up to now. now itself is
// included.
func (s *Server) lastDays(now time.Time, read reader) extent {
	y, m, d := now.In(read.loc).Date()
	return extent{time.Date(y, m, d-s.Days+1, 0, 0, 0, 0, read.loc), now.Add(time.Second), pictureParts, recentPace}
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

// newestRegeneration says what is known of the last one, and no more.
func (r reader) newestRegeneration(records []Regeneration) string {
	if len(records) == 0 {
		return r.Say("home.no_regeneration", "n", regenerationDays)
	}
	last := records[len(records)-1]
	return r.Say("home.regenerated", "when", r.moment(last.Start), "ending", r.endingWords(last.Ending))
}

// earlier lists the alerts that are over, the newest first.
func (r reader) earlier(home string, alerts []detect.Alert) []earlierView {
	var over []detect.Alert
	for _, a := range alerts {
		if !a.Open() {
			over = append(over, a)
		}
	}
	slices.SortStableFunc(over, func(a, b detect.Alert) int { return b.Cleared.Compare(a.Cleared) })
	out := make([]earlierView, 0, min(len(over), earlierShown))
	for _, a := range over[:min(len(over), earlierShown)] {
		out = append(out, earlierView{r.kindTitle(a.Kind), r.summary(a), r.moment(a.Onset), r.span(a.Cleared.Sub(a.Onset).Round(time.Minute)), caseLink(home, a.ID)})
	}
	return out
}

// addAway says an absence that was told, and what day it is for telling one.
func (v *homeView) addAway(read reader, h detect.Home, now time.Time) {
	if !now.IsZero() {
		v.Today = now.In(read.loc).Format(time.DateOnly)
	}
	for _, span := range h.Away {
		if now.Before(span.To) && !now.IsZero() {
			v.Away = read.Say("away.told", "from", read.day(span.From), "to", read.day(span.To.AddDate(0, 0, -1)))
			return
		}
	}
}
