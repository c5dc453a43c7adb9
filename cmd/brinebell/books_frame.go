package main

import (
	"fmt"
	"html"
	"strings"

	"brinebell/dashboards/web/chart"
	"brinebell/detect/regeneration"
)

// The measures of a picture's document in px: the width of the drawing, the room
// left of it for the scale's numbers, and the lines of words around it.
const (
	frameWidth  = 900
	frameLeft   = 64
	frameRight  = 24
	frameTitle  = 52 // above the drawing
	frameLine   = 20 // of the list of phases
	frameAxis   = 60 // the drawing's own strips above and below its panels
	panelHeight = 170
	captionRoom = 22
)

// frameStyle colours the drawing, in light and in dark.
const frameStyle = `
svg { --paper: #fffcf5; --ink: #1f2d2e; --soft: #55605c; --line: #d9d1c0; --deep: #0f6468; --mid: #4a928f; --pale: #b9d6d1; --even: #cfe2de; --odd: #e2e5f1; }
@media (prefers-color-scheme: dark) { svg { --paper: #192324; --ink: #ece8dd; --soft: #a9b3ad; --line: #384544; --deep: #77cbc6; --mid: #3f8c8a; --pale: #2f5755; --even: #24413f; --odd: #2a304a; } }
.paper { fill: var(--paper); }
text { font: 13px system-ui, "Noto Sans", "Liberation Sans", sans-serif; fill: var(--soft); }
.title { font-size: 18px; font-weight: 600; fill: var(--ink); }
.picture { overflow: visible; }
.picture > svg { overflow: hidden; }
.caption, text.mark { fill: var(--ink); font-weight: 600; }
.grid { stroke: var(--line); stroke-width: 1; shape-rendering: crispEdges; }
path { vector-effect: non-scaling-stroke; }
.largest { fill: var(--pale); }
.mean { fill: var(--mid); }
.least { fill: var(--deep); }
.level { fill: none; stroke: var(--deep); stroke-width: 2; stroke-linejoin: round; }
.band.phase.odd { fill: var(--odd); }
.band.phase.even { fill: var(--even); }
`

// frame makes a drawing a document: with a title, its colours, and the names of
// the phases that it numbers.
func frame(p chart.Picture, phases []regeneration.Phase) string {
	p.Height = panelHeight
	drawn := frameAxis + len(p.Panels)*panelHeight
	if len(p.Panels) > 1 {
		drawn += len(p.Panels) * captionRoom
	}
	height := frameTitle + drawn + frameLine*(len(phases)+1)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %[1]d %[2]d"><style>%s</style>`, frameWidth, height, frameStyle)
	fmt.Fprintf(&b, `<rect class="paper" width="100%%" height="100%%"/><text class="title" x="%d" y="32">%s</text>`, frameLeft, html.EscapeString(p.Title))
	fmt.Fprintf(&b, `<svg x="%d" y="%d" width="%d" height="%d" overflow="visible">%s</svg>`, frameLeft, frameTitle, frameWidth-frameLeft-frameRight, drawn, p.SVG())
	for i, phase := range phases {
		fmt.Fprintf(&b, `<text x="%d" y="%d">%d  %s, %s, %.0f min</text>`, frameLeft, frameTitle+drawn+frameLine*(i+1), i+1, phaseWords(phase.Name),
			phase.Start.In(p.Axis.Location).Format("15:04"), phase.Duration.Minutes())
	}
	b.WriteString("</svg>\n")
	return b.String()
}
