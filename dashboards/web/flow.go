package web

import (
	"context"
	"math"
	"slices"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// totals names the running total of each flow point.
var totals = map[detect.Signal]detect.Signal{
	detect.InletFlow: detect.InletVolume, detect.ServiceFlow: detect.ServiceVolume, detect.DrainFlow: detect.DrainVolume,
}

// extent is a span of time with the number of spans it is looked at in.
type extent struct {
	from, to time.Time
	parts    int
	pace     time.Duration // of each span, where it is not an equal part
}

func (e extent) step() time.Duration {
	if e.pace > 0 {
		return e.pace
	}
	return e.to.Sub(e.from) / time.Duration(max(1, e.parts))
}

// points are the readings of a signal, canonical. A pipe that has no flow
// reading is read from its meter's total.
func (s *Server) points(ctx context.Context, home string, signal detect.Signal, e extent) ([]Point, error) {
	found, err := s.Source.Points(ctx, home, signal, e.from, e.to, e.parts)
	if err != nil || len(found) > 0 {
		return found, err
	}
	total, ok := totals[signal]
	if !ok {
		return nil, nil
	}
	found, err = s.Source.Points(ctx, home, total, e.from, e.to, e.parts)
	return flowFromTotals(found, e.step()), err
}

// flowFromTotals is the mean flow between the starts of neighbouring spans of a
// running total, spread evenly where spans without a reading lie between them.
// What happened within a span cannot be known from two totals: the largest flow
// is given as the mean, the least is NaN unless nothing passed at all.
func flowFromTotals(totals []Point, step time.Duration) []Point {
	var out []Point
	for i := 0; i+1 < len(totals); i++ {
		took := totals[i+1].Time.Sub(totals[i].Time)
		if took <= 0 {
			continue
		}
		// Whole spans, so that their litres add up to what passed, and two readings
		// moments apart on either side of a border make no torrent.
		step := max(step, time.Second)
		spans := max(1, int(math.Round(float64(took)/float64(step))))
		flow, least := passed(totals, i)/(float64(spans)*step.Minutes()), math.NaN()
		if flow == 0 {
			least = 0
		}
		for n := range spans {
			out = append(out, Point{Time: totals[i].Time.Add(time.Duration(n) * step), Min: least, Mean: flow, Max: flow})
		}
	}
	return out
}

// passed is the litres between the start of the i-th span and of the next. A
// total that fell was reset or has wrapped within the span: what it rose by
// before and what it shows since has passed for certain, and more is not
// claimed.
func passed(totals []Point, i int) float64 {
	here, next := totals[i], totals[i+1]
	if here.Max <= next.Min {
		return next.Min - here.Min
	}
	since := next.Min
	switch {
	case i == 0: // whether it fell within the span or at its end cannot be told
		return since
	case totals[i-1].Max > here.Min: // within: the least is of after the fall
		return max(0, here.Max-totals[i-1].Max) + max(0, since-here.Min)
	}
	return here.Max - here.Min + since
}

// extremes are the point with the largest value and the least value of all; it
// is infinite when no point knows its own.
func extremes(points []Point) (highest Point, least float64) {
	highest.Max, least = math.Inf(-1), math.Inf(1)
	for _, p := range points {
		if p.Max > highest.Max {
			highest = p
		}
		if p.Min < least {
			least = p.Min
		}
	}
	return highest, least
}

// meansOnly says whether what happened within the spans is not known.
func meansOnly(points []Point) bool {
	return slices.ContainsFunc(points, func(p Point) bool { return math.IsNaN(p.Min) })
}

// drawn converts points to the household's unit for a picture.
func (r reader) drawn(points []Point, d detect.Dimension) []chart.Point {
	out := make([]chart.Point, len(points))
	for i, p := range points {
		out[i] = chart.Point{Time: p.Time, Min: r.in(p.Min, d), Mean: r.in(p.Mean, d), Max: r.in(p.Max, d)}
	}
	return out
}

// litres is the water that the flow points hold.
func litres(points []Point, step time.Duration) float64 {
	var sum float64
	for _, p := range points {
		sum += p.Mean * step.Minutes()
	}
	return sum
}
