package chart

import (
	"fmt"
	"html"
	"math"
	"strconv"
)

func (d *drawing) printf(format string, args ...any) {
	fmt.Fprintf(&d.b, format, args...)
}

// share writes a place between 0 and 1 in per cent.
func share(at float64) string {
	return strconv.FormatFloat(math.Round(at*1e4)/100, 'f', -1, 64) + "%"
}

// bands shades the spans behind the panels. One that lies outside the axis is
// left out; one that is too short to see keeps a hair's breadth.
func (d *drawing) bands() {
	phase := 0
	for _, b := range d.Bands {
		if !b.To.After(d.Axis.From) || !b.From.Before(d.Axis.To) {
			continue
		}
		from, to := d.Axis.At(b.From), d.Axis.At(b.To)
		class, fill := string(b.Kind), ""
		switch b.Kind {
		case PhaseBand:
			phase++
			class += [...]string{" even", " odd"}[phase%2]
		case MomentBand:
			to = from
		case AlertBand:
			fill = fmt.Sprintf(` fill="url(#%s-h)"`, html.EscapeString(d.ID))
		}
		d.printf(`<rect class="band %s"%s x="%s" y="%d" width="%s" height="%d"/>`,
			class, fill, share(from), bandStrip, share(max(to-from, 0.003)), d.bottom-bandStrip)
	}
}

func (d *drawing) timeLines() {
	for _, t := range d.Axis.Ticks() {
		if t.At <= 0 || t.At >= 1 {
			continue
		}
		d.printf(`<line class="grid" x1="%s" x2="%[1]s" y1="%d" y2="%d"/>`, share(t.At), bandStrip, d.bottom)
	}
}

func (d *drawing) timeLabels() {
	for _, t := range d.Axis.Ticks() {
		if t.Label == "" {
			continue
		}
		anchor := "middle"
		switch {
		case t.LabelAt < 0.05:
			anchor = "start"
		case t.LabelAt > 0.95:
			anchor = "end"
		}
		d.printf(`<text class="tick" x="%s" y="%d" text-anchor="%s">%s`, share(t.LabelAt), d.bottom+axisHeight-7, anchor, html.EscapeString(t.Label))
		if t.More != "" { // only where there is room: the style sheet decides
			d.printf(`<tspan class="wide"> %s</tspan>`, html.EscapeString(t.More))
		}
		d.b.WriteString("</text>")
	}
}

// closeTicks is how near two labelled values may come and tickGap how far their
// labels stand left of the panel, px. The style sheet leaves the margin there.
const (
	closeTicks = 14
	tickGap    = 6
)

func (d *drawing) panel(i int) {
	p, top := d.Panels[i], d.tops[i]
	if len(d.Panels) > 1 {
		d.printf(`<text class="caption" x="0" y="%d">%s</text>`, top-7, html.EscapeString(p.Name+", "+p.Unit))
	}
	d.normal(p, top)
	ticks := p.Scale.Ticks(p.Number)
	for _, t := range ticks {
		y := d.y(i, t.At)
		d.printf(`<line class="grid" x1="0" x2="100%%" y1="%s" y2="%[1]s"/>`, coordinate(y))
	}
	d.printf(`<svg x="0" y="%d" width="100%%" height="%d" viewBox="0 0 %d %d" preserveAspectRatio="none">`, top, d.Height, boxWidth, d.Height)
	d.curves(p)
	d.b.WriteString(`</svg>`)
	d.normalEdge(p, top)
	d.limits(i)
	last := math.Inf(1)
	for _, t := range ticks {
		y := d.y(i, t.At)
		if last-y < closeTicks {
			continue
		}
		last = y
		d.printf(`<text class="tick" x="%d" y="%s" text-anchor="end">%s</text>`, -tickGap, coordinate(y+4), html.EscapeString(t.Label))
	}
}

func (d *drawing) y(panel int, at float64) float64 {
	return float64(d.tops[panel]) + (1-at)*float64(d.Height)
}

func (d *drawing) curves(p Panel) {
	if p.Style == Line {
		d.printf(`<path class="level" d="%s"/>`, linePath(d.Axis, p.Scale, p.Points, d.Height))
		return
	}
	for _, layer := range []struct {
		class string
		value func(Point) float64
	}{
		{"largest", func(q Point) float64 { return q.Max }},
		{"mean", func(q Point) float64 { return q.Mean }},
		{"least", func(q Point) float64 { return q.Min }},
	} {
		d.printf(`<path class="%s" d="%s"/>`, layer.class, stepPath(d.Axis, p.Scale, p.Points, layer.value, d.Height))
	}
}
