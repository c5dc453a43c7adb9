package web

import (
	"net/http"
	"slices"
	"time"

	"brinebell/detect"
)

// earlierShown is how many earlier alerts a home's page lists.
const earlierShown = 20

// homeView is one home: how it is, what is wrong, its last days.
type homeView struct {
	ID, Name, Newest string
	Condition        condition
	Regenerated      string // about the newest regeneration
	Books            []fact
	Open             []alertView
	Pictures         []pictureView
	Earlier          []earlierView
	Blind            []string
}

func (homeView) template() string  { return "home" }
func (v homeView) heading() string { return v.Name }

// earlierView is an alert that is over.
type earlierView struct{ What, Summary, From, Lasted string }

func (s *Server) home(r *http.Request) (view, error) {
	h, err := s.find(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	ctx, read, now := r.Context(), readerOf(h), s.Source.Now(h.ID)
	alerts, err := s.Source.Alerts(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	v := homeView{ID: h.ID, Name: nameOf(h), Condition: conditionOf(alerts, !now.IsZero()), Earlier: read.earlier(alerts)}
	for _, a := range v.Condition.open {
		v.Open = append(v.Open, s.alert(read, a))
	}
	if len(v.Open) > 0 { // the page's head has said it
		v.Open[0].Summary = ""
	}
	if now.IsZero() {
		return v, nil
	}
	v.Newest = read.moment(now)
	e := s.lastDays(now, read)
	records, err := s.Source.Regenerations(ctx, h.ID, e.from, e.to)
	if err != nil {
		return nil, err
	}
	v.Regenerated = read.newestRegeneration(records, s.Days)
	if b, ok := s.Source.Books(ctx, h.ID); ok {
		v.Books = read.books(b)
	}
	v.Pictures = s.lastDaysPictures(ctx, h, e, alerts, records)
	v.Blind = blindSpots(h, s.heard(ctx, h.ID, now))
	return v, nil
}

// find is the home's profile.
func (s *Server) find(id string) (detect.Home, error) {
	for _, h := range s.Source.Homes() {
		if h.ID == id {
			return h, nil
		}
	}
	return detect.Home{}, errNoHome
}

// newestRegeneration says what is known of the last one, and no more.
func (r reader) newestRegeneration(records []Regeneration, days int) string {
	if len(records) == 0 {
		return "No regeneration was seen in the last " + counted(days, "day", "days") + "."
	}
	last := records[len(records)-1]
	return "The last regeneration began " + r.moment(last.Start) + " and " + endingWords(last.Ending) + "."
}

// earlier lists the alerts that are over, the newest first.
func (r reader) earlier(alerts []detect.Alert) []earlierView {
	var over []detect.Alert
	for _, a := range alerts {
		if !a.Open() {
			over = append(over, a)
		}
	}
	slices.SortStableFunc(over, func(a, b detect.Alert) int { return b.Cleared.Compare(a.Cleared) })
	out := make([]earlierView, 0, min(len(over), earlierShown))
	for _, a := range over[:min(len(over), earlierShown)] {
		out = append(out, earlierView{kindTitle(a.Kind), summaryOf(a), r.moment(a.Onset), span(a.Cleared.Sub(a.Onset).Round(time.Minute))})
	}
	return out
}
