package web

import (
	"net/http"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// regenerationDays is how far back the table goes.
const regenerationDays = 60

// startLayout writes a regeneration's start into an address, in UTC.
const startLayout = "20060102T150405Z"

// regenerationsView is the table of a home's regenerations, the newest first.
type regenerationsView struct {
	ID, Name, Sentence, Next string
	Title                    string
	Rows                     []regenerationRow
}

func (regenerationsView) template() string  { return "regenerations" }
func (v regenerationsView) heading() string { return v.Title }

// regenerationRow is one regeneration in the household's units.
type regenerationRow struct {
	Link, Start, Took, Ending string
	Ended                     regeneration.Ending
	Brine, Refill, Drain      string
	Salt                      string
	Reasons                   []string // what was missing or out of proportion
	Sure                      int      // per cent
}

func (s *Server) regenerations(r *http.Request) (view, error) {
	h, err := s.find(r.Context(), r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	now, read := s.Source.Now(h.ID), askerOf(r.Context()).reads(h)
	v := regenerationsView{ID: h.ID, Name: nameOf(h), Title: read.Say("regenerations.title", "home", nameOf(h)),
		Sentence: read.Say("regenerations.none"), Next: read.Say("regenerations.first")}
	if now.IsZero() {
		v.Next = read.Say("regenerations.unheard")
		return v, nil
	}
	records, err := s.Source.Regenerations(r.Context(), h.ID, now.AddDate(0, 0, -regenerationDays), now.Add(time.Second))
	if err != nil {
		return nil, err
	}
	for _, rec := range slices.Backward(records) {
		v.Rows = append(v.Rows, read.row(h.ID, rec))
	}
	if len(records) > 0 {
		v.Sentence = read.Say("regenerations.count", "n", len(records), "days", regenerationDays)
		v.Next = read.Say("regenerations.open")
	}
	return v, nil
}

func (r reader) row(home string, rec Regeneration) regenerationRow {
	row := regenerationRow{
		Link:  "/homes/" + home + "/regenerations/" + rec.Start.UTC().Format(startLayout),
		Start: r.moment(rec.Start), Took: r.span(rec.End.Sub(rec.Start)),
		Ending: sentenceCase(r.endingWords(rec.Ending)), Ended: rec.Ending,
		Brine: r.amount(rec.BrineLitres, detect.Volume), Refill: r.amount(rec.RefillLitres, detect.Volume),
		Drain: r.amount(rec.DrainLitres, detect.Volume),
		Salt:  r.Say("number.none"), Sure: percent(rec.Confidence),
	}
	if rec.Entry == nil { // nobody booked it: the record's own word on the hour
		if rec.Manual {
			row.Reasons = []string{r.Say("reason." + string(books.OffHour))}
		}
		return row
	}
	row.Salt = r.amount(float64(rec.Entry.Salt), detect.Mass)
	if rec.Entry.SaltAssumed {
		row.Salt = r.Say("regenerations.assumed", "salt", row.Salt)
	}
	row.Reasons = r.reasons(*rec.Entry)
	return row
}
