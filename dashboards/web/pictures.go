package web

import (
	"context"
	"html/template"
	"slices"
	"strings"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// pictureParts is the spans of a picture of a week: half an hour each.
const pictureParts = 336

// pictureView is one drawn signal with the numbers behind it.
type pictureView struct {
	ID, Title, Unit, Note string
	SVG                   template.HTML // empty when nothing was measured
	Marks                 []chart.BandKind
	Missing               string // why there is no picture
	Table                 table
}

// table is the numbers behind a picture.
type table struct {
	Head []string
	Rows [][]string
}

// subject is a picture of a home's last days before it is drawn.
type subject struct {
	id, title string
	note      string
	dimension detect.Dimension
	style     chart.Style
	atLeast   float64 // canonical: the least height of its scale
	missing   string
}

// rootNote explains the scale of flows.
const rootNote = "Small flows are drawn taller than to scale, so that a drip shows. The strongest colour, at the foot, is water that never stopped; the faint tips are the largest flow."

// meansNote stands instead where only the meter's total is known.
const meansNote = "From the meter's total: each step is the mean of half an hour. Small flows are drawn taller than to scale, so that a drip shows."

// subjects are the pictures of a home by signal.
var subjects = map[detect.Signal]subject{
	detect.InletFlow: {"water", "Water through the main", rootNote, detect.FlowRate, chart.Layers, 2, ""},
	detect.ServiceFlow: {"water", "Water through the softener", rootNote, detect.FlowRate, chart.Layers, 2,
		"No meter on the main or before the softener has sent a reading in these days. Check the sensor's battery and its place."},
	detect.DrainFlow: {"drain", "Water to the drain", "Outside a regeneration the drain line should be still.", detect.FlowRate, chart.Layers, 2,
		"No meter hangs on the drain line, or it sent nothing in these days."},
	detect.BrineLevel: {"brine", "Liquid in the brine tank", "It falls while brine is drawn and rises with the refill.", detect.Length, chart.Line, 100,
		"No level sensor stands in the brine well, or it sent nothing in these days."},
}

// lastDaysPictures draws water, drain and brine. A signal that cannot be read
// just now costs its picture, not the page.
func (s *Server) lastDaysPictures(ctx context.Context, h detect.Home, e extent, alerts []detect.Alert, records []Regeneration) []pictureView {
	var out []pictureView
	for _, signal := range []detect.Signal{detect.InletFlow, detect.DrainFlow, detect.BrineLevel} {
		var points []Point
		var err error
		if signal == detect.InletFlow {
			signal, points, err = s.water(ctx, h.ID, e)
		} else {
			points, err = s.points(ctx, h.ID, signal, e)
		}
		about := subjects[signal]
		if err != nil {
			s.Logger.Error("picture not drawn", "home", h.ID, "signal", signal, "error", err)
			out = append(out, pictureView{ID: about.id, Title: about.title, Missing: "These readings could not be read just now. Try again in a minute."})
			continue
		}
		bands := append(regenerationBands(records), alertBands(alerts, signal, e)...)
		out = append(out, readerOf(h).picture(about, points, bands, e))
	}
	return out
}

// picture draws one signal.
func (r reader) picture(about subject, points []Point, bands []chart.Band, e extent) pictureView {
	v := pictureView{ID: about.id, Title: about.title, Note: about.note, Unit: r.household(about.dimension)}
	if len(points) == 0 {
		v.Missing, v.Note, v.Unit = about.missing, "", ""
		return v
	}
	if meansOnly(points) && about.note == rootNote {
		v.Note = meansNote
	}
	drawn := r.drawn(points, about.dimension)
	v.SVG = template.HTML(chart.Picture{ // chart escapes every text
		ID: "picture-" + about.id, Title: about.title, Desc: r.describe(about, points, bands),
		Axis: chart.Axis{From: e.from, To: e.to, Location: r.loc, TwelveHour: r.units == detect.US},
		Panels: []chart.Panel{{Name: about.title, Unit: r.household(about.dimension), Points: drawn, Style: about.style,
			Scale: chart.ScaleFor(drawn, r.in(about.atLeast, about.dimension), about.dimension == detect.FlowRate)}},
		Bands: bands,
	}.SVG())
	v.Marks = marksOf(bands, e)
	v.Table = r.daily(about, points, e)
	return v
}

// describe says what the picture shows to those who do not see it.
func (r reader) describe(about subject, points []Point, bands []chart.Band) string {
	highest, least := extremes(points)
	var b strings.Builder
	b.WriteString("From " + r.moment(points[0].Time) + " to " + r.moment(points[len(points)-1].Time) + ". Highest " +
		r.amount(highest.Max, about.dimension) + " on " + r.moment(highest.Time) + ", lowest " + r.amount(least, about.dimension) + ".")
	for _, kind := range []chart.BandKind{chart.RegenerationBand, chart.AlertBand} {
		n := 0
		for _, band := range bands {
			if band.Kind == kind {
				n++
			}
		}
		if n > 0 {
			b.WriteString(" Marked: " + counted(n, string(kind), string(kind)+"s") + ".")
		}
	}
	b.WriteString(" The numbers are in the table after the picture.")
	return b.String()
}

// marksOf lists what the picture's legend must explain.
func marksOf(bands []chart.Band, e extent) []chart.BandKind {
	var kinds []chart.BandKind
	for _, b := range bands {
		if b.To.After(e.from) && b.From.Before(e.to) && !slices.Contains(kinds, b.Kind) {
			kinds = append(kinds, b.Kind)
		}
	}
	return kinds
}
