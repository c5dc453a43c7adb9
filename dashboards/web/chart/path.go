package chart

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// silence is how many usual steps may pass between two points before the curve
// breaks: a picture must not draw through a time when nobody measured.
const silence = 3

// medianStep is the usual distance between neighbouring points, 0 with fewer
// than two.
func medianStep(points []Point) time.Duration {
	if len(points) < 2 {
		return 0
	}
	steps := make([]time.Duration, len(points)-1)
	for i := range steps {
		steps[i] = points[i+1].Time.Sub(points[i].Time)
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// runs cuts the points wherever nobody measured for long. A single point on
// its own has no usual step and makes one run; one without a number is none.
func runs(points []Point) [][]Point {
	points = slices.DeleteFunc(slices.Clone(points), func(p Point) bool { return math.IsNaN(p.Mean) })
	step := medianStep(points)
	var out [][]Point
	start := 0
	for i := 1; i <= len(points); i++ {
		if i == len(points) || points[i].Time.Sub(points[i-1].Time) > silence*step {
			out = append(out, points[start:i])
			start = i
		}
	}
	if len(points) == 0 {
		return nil
	}
	return out
}

// linePath joins the means of each run, as SVG path data.
func linePath(a Axis, s Scale, points []Point, height int) string {
	var b strings.Builder
	for _, run := range runs(points) {
		for i, p := range run {
			b.WriteByte("LM"[boolIndex(i == 0)])
			b.WriteString(coordinate(a.At(p.Time) * boxWidth))
			b.WriteByte(' ')
			b.WriteString(coordinate(vertical(s, p.Mean, height)))
		}
		if len(run) == 1 { // a lone point still shows, as a dot of the line's width
			b.WriteString("h.1")
		}
	}
	return b.String()
}

func boolIndex(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// stepPath is the area under the value of each point, held over its step, as
// SVG path data closed on the bottom. Neighbours of the same height share one
// stroke, which keeps quiet days small.
func stepPath(a Axis, s Scale, points []Point, value func(Point) float64, height int) string {
	step := medianStep(points)
	if step == 0 {
		step = a.To.Sub(a.From) / 100
	}
	var b strings.Builder
	for _, run := range runs(points) {
		writeSteps(&b, a, s, run, value, height, step)
	}
	return b.String()
}

func writeSteps(b *strings.Builder, a Axis, s Scale, run []Point, value func(Point) float64, height int, step time.Duration) {
	base := coordinate(float64(height))
	b.WriteString("M" + coordinate(a.At(run[0].Time)*boxWidth) + " " + base)
	last := base
	for i, p := range run {
		y := coordinate(vertical(s, value(p), height))
		if y != last {
			if i > 0 {
				b.WriteString("H" + coordinate(a.At(p.Time)*boxWidth))
			}
			b.WriteString("V" + y)
			last = y
		}
	}
	end := run[len(run)-1].Time.Add(step)
	b.WriteString("H" + coordinate(a.At(end)*boxWidth) + "V" + base + "Z")
}

// vertical is the height of v from the top; a value that is no number lies on
// the bottom.
func vertical(s Scale, v float64, height int) float64 {
	if math.IsNaN(v) {
		return float64(height)
	}
	return (1 - s.At(v)) * float64(height)
}

// coordinate writes a tenth of a unit, the finest that shows.
func coordinate(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}
