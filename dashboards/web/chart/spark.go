package chart

import (
	"fmt"
	"html"
	"math"
	"strings"
)

const sparkHeight = 36

// Spark is a small picture without an axis: values as bars side by side, NaN as
// a gap. It is drawn for a glance; desc says the same in words.
func Spark(values []float64, desc string) string {
	scale := Scale{High: 1, Root: false}
	for _, v := range values {
		if v > scale.High {
			scale.High = v
		}
	}
	var path strings.Builder
	place := float64(boxWidth) / float64(max(1, len(values)))
	for i, v := range values {
		if math.IsNaN(v) {
			continue
		}
		height := scale.At(v) * sparkHeight
		fmt.Fprintf(&path, "M%s %dv-%sh%sv%sz", coordinate(float64(i)*place), sparkHeight, coordinate(height), coordinate(place*barShare), coordinate(height))
	}
	return fmt.Sprintf(`<svg class="spark" role="img" aria-label="%s" viewBox="0 0 %d %d" preserveAspectRatio="none" xmlns="http://www.w3.org/2000/svg"><path class="mean" d="%s"/></svg>`,
		html.EscapeString(desc), boxWidth, sparkHeight, path.String())
}
