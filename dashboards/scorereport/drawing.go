package scorereport

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"
)

// drawing is an SVG picture under way. Numbers are written to a tenth of a unit.
type drawing struct {
	b             strings.Builder
	width, height float64
}

// draw begins a picture that speaks its title to those who do not see it.
func draw(width, height float64, class, title string) *drawing {
	d := &drawing{width: width, height: height}
	d.f(`<svg viewBox="0 0 %s %s" class="%s" role="img" aria-label="%s">`, n(width), n(height), class, html.EscapeString(title))
	return d
}

// n writes a coordinate.
func n(v float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
}

func (d *drawing) f(format string, args ...any) { fmt.Fprintf(&d.b, format, args...) }

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	d.f(`<path class="%s" d="M%s %sL%s %s"/>`, class, n(x1), n(y1), n(x2), n(y2))
}

func (d *drawing) text(class, anchor string, x, y float64, words string) {
	d.f(`<text class="%s" text-anchor="%s" x="%s" y="%s">%s</text>`, class, anchor, n(x), n(y), html.EscapeString(words))
}

func (d *drawing) circle(class string, x, y, r float64, title string) {
	d.f(`<circle class="%s" cx="%s" cy="%s" r="%s"><title>%s</title></circle>`, class, n(x), n(y), n(r), html.EscapeString(title))
}

// mark draws a path whose coordinates are round a point.
func (d *drawing) mark(class, path string, x, y float64, title string) {
	d.f(`<path class="%s" transform="translate(%s %s)" d="%s"><title>%s</title></path>`, class, n(x), n(y), path, html.EscapeString(title))
}

// done ends the picture. Everything in it was written as a number or escaped.
func (d *drawing) done() template.HTML {
	return template.HTML(d.b.String() + "</svg>") // #nosec G203 -- drawn by package chart, which escapes every text it sets
}

// logarithm places hours between least and most on 0 to 1.
func logarithm(hours, least, most float64) float64 {
	v := math.Log(max(hours, least)/least) / math.Log(most/least)
	return min(1, v)
}
