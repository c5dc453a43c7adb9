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
	Normal                bool   // a normal band is drawn, so that the legend explains it
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
	id, title string // title: its key in the catalogue
	dimension detect.Dimension
	style     chart.Style
	atLeast   float64 // canonical: the least height of its scale
}

// subjects are the pictures of a home by signal. Their texts stand in the
// catalogue under their id.
var subjects = map[detect.Signal]subject{
	detect.InletFlow:        {"water", "picture.main", detect.FlowRate, chart.Layers, 2},
	detect.ServiceFlow:      {"water", "picture.softener", detect.FlowRate, chart.Layers, 2},
	detect.DrainFlow:        {"drain", "picture.drain", detect.FlowRate, chart.Layers, 2},
	detect.BrineLevel:       {"brine", "picture.brine", detect.Length, chart.Line, 100},
	detect.SaltLevel:        {"salt", "picture.salt", detect.Length, chart.Line, 100},
	detect.OutletPressure:   {"outlet", "picture.outlet", detect.Pressure, chart.Line, 100},
	detect.InletPressure:    {"inlet", "picture.inlet", detect.Pressure, chart.Line, 100},
	detect.ValvePower:       {"power", "picture.power", detect.Power, chart.Line, 5},
	detect.ColdHardness:     {"cold", "picture.cold", detect.Hardness, chart.Line, 50},
	detect.HotHardness:      {"hot", "picture.hot", detect.Hardness, chart.Line, 50},
	detect.SoftConductivity: {"conductivity", "picture.conductivity", detect.Conductivity, chart.Line, 100},
	detect.FloorWet:         {"floor", "picture.floor", "", chart.Line, 1},
}

// lastDaysPictures draws water, drain and brine. A signal that cannot be read
// just now costs its picture, not the page.
func (s *Server) lastDaysPictures(ctx context.Context, h detect.Home, e extent, alerts []detect.Alert, records []Regeneration) []pictureView {
	var out []pictureView
	read := askerOf(ctx).reads(h)
	for _, signal := range []detect.Signal{detect.InletFlow, detect.DrainFlow, detect.BrineLevel} {
		var points []Point
		var err error
		if signal == detect.InletFlow {
			signal, points, err = s.recentWater(ctx, h.ID, e, read.loc)
		} else {
			points, err = s.recent(ctx, h.ID, signal, e, read.loc)
		}
		about := subjects[signal]
		if err != nil {
			s.Logger.Error("picture not drawn", "home", h.ID, "signal", signal, "error", err)
			out = append(out, pictureView{ID: about.id, Title: read.Say(about.title), Missing: read.Say("picture.failed")})
			continue
		}
		bands := append(regenerationBands(records), read.alertBands(alerts, signal, e)...)
		out = append(out, read.picture(about, points, bands, e))
	}
	return out
}

// picture draws one signal.
func (r reader) picture(about subject, points []Point, bands []chart.Band, e extent) pictureView {
	v := pictureView{ID: about.id, Title: r.Say(about.title)}
	if len(points) == 0 {
		v.Missing = r.Say("picture." + about.id + ".missing")
		return v
	}
	v.Unit, v.Note = r.unit(about.dimension), r.pictureNote(about, points)
	v.SVG = template.HTML(chart.Picture{ // #nosec G203 -- chart escapes every text
		ID: "picture-" + about.id, Title: v.Title, Desc: r.describe(about, points, bands),
		Axis: r.axis(e), Panels: []chart.Panel{r.panel(about, points, about.dimension == detect.FlowRate)}, Bands: bands,
	}.SVG())
	v.Marks = marksOf(bands, e)
	v.Table = r.daily(about, points, e)
	return v
}

// axis is the time of a picture in the home's clock and the reader's words.
func (r reader) axis(e extent) chart.Axis {
	return chart.Axis{From: e.from, To: e.to, Location: r.loc, TwelveHour: r.twelve(), Weekday: r.Weekday}
}

// panel is a signal in the reader's units.
func (r reader) panel(about subject, points []Point, root bool) chart.Panel {
	drawn := r.drawn(points, about.dimension)
	return chart.Panel{Name: r.Say(about.title), Unit: r.unit(about.dimension), Points: drawn, Style: about.style,
		Scale: chart.ScaleFor(drawn, r.in(about.atLeast, about.dimension), root), Number: r.Tick}
}

// pictureNote explains a picture; the scale of flows differs where only the
// meter's total is known.
func (r reader) pictureNote(about subject, points []Point) string {
	switch {
	case about.id == "water" && meansOnly(points):
		return r.Say("picture.note.means")
	case about.id == "water":
		return r.Say("picture.note.layers")
	}
	return r.Or("picture."+about.id+".note", "")
}

// describe says what the picture shows to those who do not see it.
func (r reader) describe(about subject, points []Point, bands []chart.Band) string {
	highest, least := extremes(points)
	parts := []string{r.Say("picture.desc", "from", r.moment(points[0].Time), "to", r.moment(points[len(points)-1].Time),
		"highest", r.amount(highest.Max, about.dimension), "when", r.moment(highest.Time), "lowest", r.amount(least, about.dimension))}
	for _, kind := range []chart.BandKind{chart.RegenerationBand, chart.AlertBand} {
		n := 0
		for _, band := range bands {
			if band.Kind == kind {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, r.Say("picture.desc."+string(kind), "n", n))
		}
	}
	return strings.Join(append(parts, r.Say("picture.desc.table")), " ")
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
