package web

import (
	"context"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// margin is how much of the time before and after a regeneration its picture
// shows, and regenerationParts the spans it is drawn in.
const (
	margin            = 20 * time.Minute
	regenerationParts = 240
)

// regenerationView is one regeneration as a picture and its phases as a table.
type regenerationView struct {
	HomeID, HomeName, Sentence, Sure string
	Title                            string
	Row                              regenerationRow
	Picture                          pictureView
	Phases                           []phaseRow
	Levels                           []fact
}

func (regenerationView) template() string  { return "regeneration" }
func (v regenerationView) heading() string { return v.Title }

// phaseRow is one phase; Number is what the picture calls it.
type phaseRow struct {
	Number                          int
	Name, Start, Took, Drain, Brine string
}

func (s *Server) regeneration(r *http.Request) (view, error) {
	h, err := s.find(r.Context(), r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	rec, err := s.record(r.Context(), h.ID, r.PathValue("start"))
	if err != nil {
		return nil, err
	}
	read := askerOf(r.Context()).reads(h)
	v := regenerationView{HomeID: h.ID, HomeName: nameOf(h), Row: read.row(h.ID, rec), Phases: read.phases(rec.Record)}
	v.Title = read.Say("regeneration.title", "when", v.Row.Start, "home", v.HomeName)
	v.Sentence = read.regenerationSentence(rec.Record)
	v.Sure = read.Say("regeneration.sure", "words", read.likelihood(rec.Confidence), "percent", percent(rec.Confidence))
	v.Levels = []fact{{Name: read.Say("regeneration.before"), Value: read.amount(rec.LevelStart, detect.Length)},
		{Name: read.Say("regeneration.lowest"), Value: read.amount(rec.LevelLowest, detect.Length)},
		{Name: read.Say("regeneration.after"), Value: read.amount(rec.LevelEnd, detect.Length)}}
	v.Picture, err = s.regenerationPicture(r.Context(), h, rec.Record)
	return v, err
}

// record is the regeneration that began at the second the address names.
func (s *Server) record(ctx context.Context, home, start string) (Regeneration, error) {
	at, err := time.Parse(startLayout, start)
	if err != nil {
		return Regeneration{}, errNoRegeneration
	}
	records, err := s.Source.Regenerations(ctx, home, at.Add(-time.Hour), at.Add(time.Hour))
	if err != nil {
		return Regeneration{}, err
	}
	for _, rec := range records {
		if rec.Start.Unix() == at.Unix() {
			return rec, nil
		}
	}
	return Regeneration{}, errNoRegeneration
}

// regenerationSentence says what it did, as far as it was measured.
func (r reader) regenerationSentence(rec regeneration.Record) string {
	parts := []string{r.Say("regeneration.took", "span", r.span(rec.End.Sub(rec.Start)), "ending", r.endingWords(rec.Ending))}
	brine, drain := r.amount(rec.BrineLitres, detect.Volume), r.amount(rec.DrainLitres, detect.Volume)
	switch {
	case !math.IsNaN(rec.BrineLitres) && !math.IsNaN(rec.DrainLitres):
		parts = append(parts, r.Say("regeneration.drew_and_sent", "brine", brine, "drain", drain))
	case !math.IsNaN(rec.BrineLitres):
		parts = append(parts, r.Say("regeneration.drew", "brine", brine))
	case !math.IsNaN(rec.DrainLitres):
		parts = append(parts, r.Say("regeneration.sent", "drain", drain))
	}
	if rec.Manual {
		parts = append(parts, r.Say("regeneration.manual"))
	}
	return strings.Join(parts, " ")
}

func (r reader) phases(rec regeneration.Record) []phaseRow {
	rows := make([]phaseRow, len(rec.Phases))
	for i, p := range rec.Phases {
		rows[i] = phaseRow{i + 1, r.phaseName(p.Name), r.clock(p.Start), r.span(p.Duration),
			r.amount(p.DrainLitres, detect.Volume), r.brine(p.BrineLitres)}
	}
	return rows
}

// brine says which way the liquid of the brine tank went.
func (r reader) brine(litres float64) string {
	switch {
	case math.IsNaN(litres):
		return r.Say("number.none")
	case litres < 0:
		return r.Say("regeneration.in", "litres", r.amount(-litres, detect.Volume))
	case litres > 0:
		return r.Say("regeneration.out", "litres", r.amount(litres, detect.Volume))
	}
	return "0"
}

// regenerationPicture draws drain flow above brine level with the phases shaded.
func (s *Server) regenerationPicture(ctx context.Context, h detect.Home, rec regeneration.Record) (pictureView, error) {
	read, e := askerOf(ctx).reads(h), extent{rec.Start.Add(-margin), rec.End.Add(margin), regenerationParts, 0}
	v := pictureView{ID: "regeneration", Title: read.Say("regeneration.picture"), Table: table{Head: read.List("evidence.table")}}
	p := chart.Picture{ID: "picture-regeneration", Title: v.Title, Bands: phaseBands(rec), Axis: read.axis(e)}
	for _, signal := range []detect.Signal{detect.DrainFlow, detect.BrineLevel} {
		points, err := s.points(ctx, h.ID, signal, e)
		if err != nil {
			return v, err
		}
		if len(points) == 0 {
			continue
		}
		about := subjects[signal]
		p.Panels = append(p.Panels, read.panel(about, points, false))
		for _, row := range read.daily(about, points, e).Rows {
			v.Table.Rows = append(v.Table.Rows, append([]string{row[0], read.Say(about.title)}, row[1:]...))
		}
		p.Desc += read.Say(about.title) + ". " + read.describe(about, points, nil) + " "
	}
	if len(p.Panels) == 0 {
		v.Missing = read.Say("regeneration.unseen")
		return v, nil
	}
	v.SVG = template.HTML(p.SVG()) // #nosec G203 -- chart escapes every text
	return v, nil
}

// phaseBands numbers the phases as the table does.
func phaseBands(rec regeneration.Record) []chart.Band {
	bands := make([]chart.Band, len(rec.Phases))
	for i, p := range rec.Phases {
		bands[i] = chart.Band{Kind: chart.PhaseBand, From: p.Start, To: p.Start.Add(p.Duration), Label: strconv.Itoa(i + 1)}
	}
	return bands
}
