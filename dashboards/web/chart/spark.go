package chart

import (
	"fmt"
	"html"
)

const sparkHeight = 36

// Spark is a small picture without an axis: the mean of the points as steps.
// It is drawn for a glance; desc says the same in words.
func Spark(axis Axis, points []Point, desc string) string {
	scale := ScaleFor(meansOnly(points), 0, true)
	path := stepPath(axis, scale, points, func(p Point) float64 { return p.Mean }, sparkHeight)
	return fmt.Sprintf(`<svg class="spark" role="img" aria-label="%s" viewBox="0 0 %d %d" preserveAspectRatio="none" xmlns="http://www.w3.org/2000/svg"><path class="mean" d="%s"/></svg>`,
		html.EscapeString(desc), boxWidth, sparkHeight, path)
}

func meansOnly(points []Point) []Point {
	out := make([]Point, len(points))
	for i, p := range points {
		out[i] = Point{Time: p.Time, Max: p.Mean}
	}
	return out
}
