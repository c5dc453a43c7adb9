package chart

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// Bar is one figure among its equals: a day or an hour.
type Bar struct {
	Label string
	Value float64 // NaN: not known, drawn as a gap with a short line
	Usual float64 // where a notch says what is usual; NaN: none
	Class string  // of its own, as "now" for what is not over yet
}

// BarPicture is bars side by side on one scale from nought.
type BarPicture struct {
	ID, Title, Desc string
	Bars            []Bar
	Height          int // px; 0 means the default
	Every           int // each so-manieth bar is labelled; 0 means all
	Least           float64
	Number          func(float64) string // writes a value beside the scale
}

// barShare is how much of its place a bar fills.
const barShare = 0.72

// SVG is the picture as an inline element; every text in it is escaped.
func (p BarPicture) SVG() string {
	if p.Height == 0 {
		p.Height = panelHeight
	}
	p.Every = max(1, p.Every)
	var b strings.Builder
	id := html.EscapeString(p.ID)
	fmt.Fprintf(&b, `<svg class="picture bars" role="img" aria-labelledby="%[1]s-t %[1]s-d" width="100%%" height="%[2]d" xmlns="http://www.w3.org/2000/svg"><title id="%[1]s-t">%[3]s</title><desc id="%[1]s-d">%[4]s</desc>`,
		id, p.Height+barTop+axisHeight, html.EscapeString(p.Title), html.EscapeString(p.Desc))
	scale := p.scale()
	p.ticks(&b, scale)
	for i := range p.Bars {
		p.bar(&b, i, scale)
	}
	b.WriteString("</svg>")
	return b.String()
}

// barTop is the room above the highest bar, px.
const barTop = 6

func (p BarPicture) scale() Scale {
	high := p.Least
	for _, bar := range p.Bars {
		for _, v := range []float64{bar.Value, bar.Usual} {
			if v > high {
				high = v
			}
		}
	}
	if high <= 0 {
		high = 1
	}
	return Scale{High: high * (1 + headroom)}
}

func (p BarPicture) y(s Scale, v float64) float64 {
	return float64(barTop) + (1-s.At(v))*float64(p.Height)
}

func (p BarPicture) ticks(b *strings.Builder, s Scale) {
	last := math.Inf(1)
	for _, t := range s.Ticks(p.Number) {
		y := float64(barTop) + (1-t.At)*float64(p.Height)
		fmt.Fprintf(b, `<line class="grid" x1="0" x2="100%%" y1="%s" y2="%[1]s"/>`, coordinate(y))
		if last-y >= closeTicks {
			fmt.Fprintf(b, `<text class="tick" x="%d" y="%s" text-anchor="end">%s</text>`, -tickGap, coordinate(y+4), html.EscapeString(t.Label))
			last = y
		}
	}
}

func (p BarPicture) bar(b *strings.Builder, i int, s Scale) {
	bar, place := p.Bars[i], 1/float64(len(p.Bars))
	left, foot := (float64(i)+(1-barShare)/2)*place, float64(barTop+p.Height)
	switch y := p.y(s, bar.Value); {
	case math.IsNaN(bar.Value):
		fmt.Fprintf(b, `<rect class="bar unknown" x="%s" y="%s" width="%s" height="3"/>`, share(left), coordinate(foot-3), share(barShare*place))
	case bar.Value > 0:
		y = math.Min(y, foot-1.5) // what is little still shows
		fmt.Fprintf(b, `<rect class="bar %s" x="%s" y="%s" width="%s" height="%s"/>`, bar.Class, share(left), coordinate(y), share(barShare*place), coordinate(foot-y))
	}
	if !math.IsNaN(bar.Usual) {
		y := coordinate(p.y(s, bar.Usual))
		fmt.Fprintf(b, `<line class="usual" x1="%s" x2="%s" y1="%s" y2="%[3]s"/>`, share(float64(i)*place), share(float64(i+1)*place), y)
	}
	if i%p.Every == 0 && bar.Label != "" {
		fmt.Fprintf(b, `<text class="tick" x="%s" y="%s" text-anchor="middle">%s</text>`, share((float64(i)+0.5)*place), coordinate(foot+axisHeight-7), html.EscapeString(bar.Label))
	}
}
