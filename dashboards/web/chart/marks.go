package chart

import (
	"html"
	"strings"
)

// The two rows of the strip above the panels, px from the top: the words of spans
// stand in the upper one, dots and moments in the lower, so that none covers the
// other.
const (
	wordRow = 13
	dotRow  = bandStrip - 8
)

// marks writes above the bands what they are, so that none is told by its
// colour alone.
func (d *drawing) marks() {
	for _, b := range d.Bands {
		if !b.To.After(d.Axis.From) || !b.From.Before(d.Axis.To) {
			continue
		}
		from, to := d.Axis.At(b.From), d.Axis.At(b.To)
		switch b.Kind {
		case RegenerationBand:
			d.printf(`<circle class="mark" cx="%s" cy="%d" r="4"/>`, share((from+to)/2), dotRow)
		case PhaseBand:
			d.printf(`<text class="mark" x="%s" y="%d" text-anchor="middle">%s</text>`, share((from+to)/2), dotRow+3, html.EscapeString(b.Label))
		case AlertBand:
			d.word(b.Label, "mark warn", wordRow, from, to)
		case MomentBand:
			d.word(b.Label, "mark mend", dotRow+4, from, from)
		}
	}
}

// word writes a band's name at its beginning, or before its end where it would
// run out of the picture.
func (d *drawing) word(label, class string, y int, from, to float64) {
	at, anchor := from, "start"
	if from > 0.75 {
		at, anchor = to, "end"
	}
	d.printf(`<text class="%s" x="%s" y="%d" text-anchor="%s">%s</text>`, class, share(at), y, anchor, html.EscapeString(label))
}

// normal shades where the values usually lie.
func (d *drawing) normal(p Panel, top int) {
	if len(p.Normal) == 0 {
		return
	}
	d.inBox(top, "normal", normalPath(d.Axis, p.Scale, p.Normal, d.Height))
}

// normalEdge draws the upper edge of what is usual over the curves, which cover
// the shading where they are full.
func (d *drawing) normalEdge(p Panel, top int) {
	if len(p.Normal) == 0 {
		return
	}
	var b strings.Builder
	for i, q := range p.Normal {
		y := coordinate(vertical(p.Scale, q.Max, d.Height))
		if i == 0 {
			b.WriteString("M" + coordinate(d.Axis.At(q.Time)*boxWidth) + " " + y)
		} else {
			b.WriteString("H" + coordinate(d.Axis.At(q.Time)*boxWidth) + "V" + y)
		}
	}
	d.inBox(top, "normal-edge", b.String()+"H"+coordinate(boxWidth))
}

// inBox draws a path in the stretching box of a panel.
func (d *drawing) inBox(top int, class, path string) {
	d.printf(`<svg x="0" y="%d" width="100%%" height="%d" viewBox="0 0 %d %d" preserveAspectRatio="none"><path class="%s" d="%s"/></svg>`, top, d.Height, boxWidth, d.Height, class, path)
}

// normalPath is the outline between Min and Max, each held until the next point.
func normalPath(a Axis, s Scale, points []Point, height int) string {
	var b strings.Builder
	x := func(i int) string {
		if i == len(points) {
			return coordinate(a.At(a.To) * boxWidth)
		}
		return coordinate(a.At(points[i].Time) * boxWidth)
	}
	b.WriteString("M" + x(0) + " " + coordinate(vertical(s, points[0].Max, height)))
	for i, p := range points {
		b.WriteString("V" + coordinate(vertical(s, p.Max, height)) + "H" + x(i+1))
	}
	for i := len(points) - 1; i >= 0; i-- {
		b.WriteString("V" + coordinate(vertical(s, points[i].Min, height)) + "H" + x(i))
	}
	b.WriteString("Z")
	return b.String()
}

// limits draws the levels that matter, each with its name at the right edge.
func (d *drawing) limits(i int) {
	for _, l := range d.Panels[i].Limits {
		y := d.y(i, d.Panels[i].Scale.At(l.At))
		d.printf(`<line class="limit" x1="0" x2="100%%" y1="%s" y2="%[1]s"/>`, coordinate(y))
		d.printf(`<text class="tick limit" x="100%%" y="%s" text-anchor="end">%s</text>`, coordinate(y-4), html.EscapeString(l.Name))
	}
}
