package chart

import (
	"html"
	"strings"
	"time"
)

// Point is the readings of one span of time: their least, mean and largest.
// Time is the start of the span.
type Point struct {
	Time           time.Time
	Min, Mean, Max float64
}

// Style says how a panel's points are drawn.
type Style int

// The styles.
const (
	Layers Style = iota // largest, mean and least as steps over each other: for flow
	Line                // the mean as a line: for a level
)

// Panel is one measured quantity on the common time axis.
type Panel struct {
	Name   string // shown above the panel when there are several
	Unit   string // written after the name
	Points []Point
	Style  Style
	Scale  Scale
	// Number writes a value beside the scale; nil: Number.
	Number func(float64) string
	// Normal is where the values usually lie, drawn behind them: each point's
	// Min to Max from its Time on. Empty: not known.
	Normal []Point
	// Limits are levels drawn across, with their names.
	Limits []Limit
}

// Limit is a level that matters, as a threshold does.
type Limit struct {
	At   float64
	Name string
}

// BandKind says what a band marks.
type BandKind string

// The kinds of bands; each is also the class that colours it.
const (
	RegenerationBand BandKind = "regeneration" // a tint with a dot above
	AlertBand        BandKind = "alert"        // hatched, with a word above
	PhaseBand        BandKind = "phase"        // alternating tints with a number above
	MomentBand       BandKind = "moment"       // a line with a word above, where something was done
)

// Band is a span of time marked behind the curves.
type Band struct {
	Kind     BandKind
	From, To time.Time
	Label    string // written above the band; empty for none
}

// Picture is a drawing with everything that it says.
type Picture struct {
	ID     string // unique on the page, [a-z0-9-]
	Title  string
	Desc   string
	Axis   Axis
	Panels []Panel
	Bands  []Band
	Height int // of each panel, px; 0 means the default
}

// The heights of a picture's parts in px.
const (
	panelHeight   = 130
	bandStrip     = 34 // above the panels, where bands say what they are: words above dots
	captionHeight = 22
	axisHeight    = 24
	boxWidth      = 1000 // units across the stretching box of the curves
)

// SVG is the picture as an inline element; every text in it is escaped.
func (p Picture) SVG() string {
	if p.Height == 0 {
		p.Height = panelHeight
	}
	d := &drawing{Picture: p}
	d.lay()
	d.open()
	d.bands()
	d.timeLines()
	for i := range p.Panels {
		d.panel(i)
	}
	d.marks()
	d.timeLabels()
	d.b.WriteString("</svg>")
	return d.b.String()
}

type drawing struct {
	Picture
	b      strings.Builder
	tops   []int // of each panel's plot
	bottom int   // of the last panel
}

// lay gives each panel its place.
func (d *drawing) lay() {
	y := bandStrip
	for range d.Panels {
		if len(d.Panels) > 1 {
			y += captionHeight
		}
		d.tops = append(d.tops, y)
		y += d.Height
	}
	d.bottom = y
}

func (d *drawing) open() {
	id := html.EscapeString(d.ID)
	d.printf(`<svg class="picture" role="img" aria-labelledby="%s-t %s-d" width="100%%" height="%d" xmlns="http://www.w3.org/2000/svg">`,
		id, id, d.bottom+axisHeight)
	d.printf(`<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, id, html.EscapeString(d.Title), id, html.EscapeString(d.Desc))
	if d.has(AlertBand) {
		d.printf(`<defs><pattern id="%s-h" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">`+
			`<rect class="hatch" width="2" height="8"/></pattern></defs>`, id)
	}
}

func (d *drawing) has(kind BandKind) bool {
	for _, b := range d.Bands {
		if b.Kind == kind {
			return true
		}
	}
	return false
}
