package web

import (
	"context"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// around is how much of the time before and after a regeneration its picture
// shows, and regenerationParts the spans it is drawn in.
const (
	around            = 20 * time.Minute
	regenerationParts = 240
)

// regenerationView is one regeneration as a picture and its phases as a table.
type regenerationView struct {
	HomeID, HomeName, Sentence, Sure string
	Row                              regenerationRow
	Picture                          pictureView
	Phases                           []phaseRow
	Levels                           []fact
}

func (regenerationView) template() string { return "regeneration" }
func (v regenerationView) heading() string {
	return "Regeneration of " + v.Row.Start + ", " + v.HomeName
}

// phaseRow is one phase; Number is what the picture calls it.
type phaseRow struct {
	Number                          int
	Name, Start, Took, Drain, Brine string
}

func (s *Server) regeneration(r *http.Request) (view, error) {
	h, err := s.find(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	rec, err := s.record(r.Context(), h.ID, r.PathValue("start"))
	if err != nil {
		return nil, err
	}
	read := readerOf(h)
	v := regenerationView{HomeID: h.ID, HomeName: nameOf(h), Row: read.row(h.ID, rec), Phases: read.phases(rec.Record)}
	v.Sentence = read.regenerationSentence(rec.Record)
	v.Sure = "That this was a regeneration is " + likelihood(rec.Confidence) + " (" + strconv.Itoa(percent(rec.Confidence)) + " %)."
	v.Levels = []fact{{"Brine level before", read.amount(rec.LevelStart, detect.Length)},
		{"Lowest", read.amount(rec.LevelLowest, detect.Length)}, {"After the refill", read.amount(rec.LevelEnd, detect.Length)}}
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
	text := "It took " + span(rec.End.Sub(rec.Start)) + " and " + endingWords(rec.Ending)
	if !math.IsNaN(rec.BrineLitres) {
		text += "; it drew " + r.amount(rec.BrineLitres, detect.Volume) + " of brine"
	}
	if !math.IsNaN(rec.DrainLitres) {
		text += " and sent " + r.amount(rec.DrainLitres, detect.Volume) + " to the drain"
	}
	if rec.Manual {
		text += ". It came at another hour than the programme's"
	}
	return text + "."
}

func (r reader) phases(rec regeneration.Record) []phaseRow {
	rows := make([]phaseRow, len(rec.Phases))
	for i, p := range rec.Phases {
		rows[i] = phaseRow{i + 1, phaseName(p.Name), r.clock(p.Start), span(p.Duration),
			r.amount(p.DrainLitres, detect.Volume), r.brine(p.BrineLitres)}
	}
	return rows
}

// brine says which way the liquid of the brine tank went.
func (r reader) brine(litres float64) string {
	switch {
	case math.IsNaN(litres):
		return noNumber
	case litres < 0:
		return r.amount(-litres, detect.Volume) + " in"
	case litres > 0:
		return r.amount(litres, detect.Volume) + " out"
	}
	return "0"
}

// regenerationPicture draws drain flow above brine level with the phases shaded.
func (s *Server) regenerationPicture(ctx context.Context, h detect.Home, rec regeneration.Record) (pictureView, error) {
	read, e := readerOf(h), extent{rec.Start.Add(-around), rec.End.Add(around), regenerationParts}
	v := pictureView{ID: "regeneration", Title: "Drain flow and brine level"}
	p := chart.Picture{ID: "picture-regeneration", Title: v.Title, Bands: phaseBands(rec),
		Axis: chart.Axis{From: e.from, To: e.to, Location: read.loc, TwelveHour: read.units == detect.US}}
	for _, signal := range []detect.Signal{detect.DrainFlow, detect.BrineLevel} {
		points, err := s.points(ctx, h.ID, signal, e)
		if err != nil {
			return v, err
		}
		if len(points) == 0 {
			continue
		}
		about := subjects[signal]
		drawn := read.drawn(points, about.dimension)
		p.Panels = append(p.Panels, chart.Panel{Name: about.title, Unit: read.household(about.dimension), Points: drawn,
			Style: about.style, Scale: chart.ScaleFor(drawn, read.in(about.atLeast, about.dimension), false)})
		p.Desc += about.title + ". " + read.describe(about, points, nil) + " "
	}
	if len(p.Panels) == 0 {
		v.Missing = "Neither the drain line nor the brine tank was measured then: this regeneration was recognised from other signals."
		return v, nil
	}
	v.SVG = template.HTML(p.SVG()) // chart escapes every text
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
