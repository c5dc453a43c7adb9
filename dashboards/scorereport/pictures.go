package scorereport

import (
	"fmt"
	"html/template"
	"math"

	"brinebell/detect/score"
)

// The shapes of outcomes, so that they differ without colour too.
const (
	cross    = "M-4-4 4 4M4-4-4 4"
	triangle = "M-4.5 4 0-4.5 4.5 4Z"
	square   = "M-3.5-3.5H3.5V3.5H-3.5Z"
)

// strip draws the episodes of a fault by severity, and the share found over it.
func strip(f score.Fault, of []score.Judged) template.HTML {
	const left, right, top, bottom = 30.0, 310.0, 8.0, 64.0
	d := draw(320, 100, "", fmt.Sprintf("%s by severity: %d found, %d missed of %d episodes", words(f.Fault), f.Found, f.Missed, f.Episodes))
	x := func(severity float64) float64 { return left + severity*(right-left) }
	y := func(share float64) float64 { return bottom - share*(bottom-top) }
	for _, v := range []float64{0, 0.5, 1} {
		d.line("rule", left, y(v), right, y(v))
		d.text("", "end", left-4, y(v)+4, fmt.Sprintf("%.0f%%", 100*v))
		d.text("", "middle", x(v), 97, fmt.Sprintf("%.1f", v))
	}
	if len(f.Fit) > 0 {
		path := fmt.Sprintf("M%s %s", n(x(f.Fit[0].Severity)), n(y(f.Fit[0].Share)))
		for _, p := range f.Fit[1:] {
			path += fmt.Sprintf("H%sV%s", n(x(p.Severity)), n(y(p.Share)))
		}
		d.f(`<path class="fit" d="%sH%s"/>`, path, n(right))
	}
	for _, j := range of {
		title := fmt.Sprintf("%s, severity %.2f: %s", j.Home, j.Severity, words(j.Outcome))
		switch j.Outcome {
		case score.Found:
			d.circle("found", x(j.Severity), 77, 4, title+" after "+score.Hours(j.Delay))
		case score.Late:
			d.mark("late", triangle, x(j.Severity), 77, title)
		case score.Missed:
			d.mark("missed", cross, x(j.Severity), 77, title)
		default:
			d.mark("aside", square, x(j.Severity), 77, title)
		}
	}
	return d.done()
}

// The ends of the axis of delays and its marks, hours.
const leastDelay, mostDelay = 0.25, 60 * 24.0

var delayTicks = []struct {
	hours float64
	label string
}{{0.25, "15 min"}, {1, "1 h"}, {6, "6 h"}, {24, "1 day"}, {3 * 24, "3"}, {7 * 24, "7"}, {14 * 24, "14"}, {30 * 24, "30"}, {60 * 24, "60 days"}}

// delays draws how soon each fault was found.
func delays(r *score.Report) template.HTML {
	const left, right, row, top = 140.0, 690.0, 20.0, 24.0
	var faults []score.Fault
	for _, f := range r.Faults {
		if f.Found > 0 {
			faults = append(faults, f)
		}
	}
	if len(faults) == 0 {
		return "<p>Nothing was found.</p>"
	}
	bottom := top + row*float64(len(faults))
	d := draw(720, bottom+6, "tall", "Delay from onset to alert, by fault; the median and worst stand in the table below")
	x := func(hours float64) float64 { return left + (right-left)*logarithm(hours, leastDelay, mostDelay) }
	for _, t := range delayTicks {
		d.line("rule", x(t.hours), top-4, x(t.hours), bottom)
		d.text("", "middle", x(t.hours), top-9, t.label)
	}
	for i, f := range faults {
		y := top + row*(float64(i)+0.5)
		d.text("name", "end", left-10, y+4, words(f.Fault))
		for _, j := range r.Episodes {
			if j.Fault == f.Fault && j.Outcome == score.Found {
				d.circle("dot", x(j.Delay), y, 4, j.Home+": "+score.Hours(j.Delay))
			}
		}
		if f.Median != nil {
			d.line("median", x(*f.Median), y-8, x(*f.Median), y+8)
		}
	}
	return d.done()
}

// reliability draws what was said against what was right.
func reliability(s score.Sureness) template.HTML {
	const left, right, top, bottom = 40.0, 290.0, 10.0, 260.0
	d := draw(300, 300, "", fmt.Sprintf("%s: share right against probability said; the numbers stand in the table below", s.Of))
	x := func(v float64) float64 { return left + v*(right-left) }
	y := func(v float64) float64 { return bottom - v*(bottom-top) }
	for _, v := range []float64{0, 0.25, 0.5, 0.75, 1} {
		d.line("rule", left, y(v), right, y(v))
		d.text("", "end", left-6, y(v)+4, fmt.Sprintf("%.0f%%", 100*v))
		d.text("", "middle", x(v), bottom+16, fmt.Sprintf("%.0f%%", 100*v))
	}
	d.line("fit", x(0), y(0), x(1), y(1))
	d.text("", "middle", (left+right)/2, bottom+34, "probability said (up: share right)")
	for _, b := range s.Bins {
		d.line("range", x(b.Said), y(b.Right.Low), x(b.Said), y(b.Right.High))
		size := 3 + 7*math.Sqrt(float64(b.Count)/float64(s.Count))
		d.circle("dot", x(b.Said), y(b.Right.Share), size, fmt.Sprintf("said %.0f %%, right %.0f %% of %d", 100*b.Said, 100*b.Right.Share, b.Count))
	}
	return d.done()
}

// alarms draws the rate of false alarms of every kind with its range.
func alarms(r *score.Report) template.HTML {
	const left, right, row, top = 170.0, 690.0, 22.0, 24.0
	most := 0.0
	for _, f := range r.False {
		most = max(most, f.High)
	}
	if most == 0 {
		return ""
	}
	step := math.Pow(10, math.Floor(math.Log10(most)))
	if most/step < 2 {
		step /= 5
	} else if most/step < 5 {
		step /= 2
	}
	bottom := top + row*float64(len(r.False))
	d := draw(720, bottom+6, "tall", "False alarms per home-year by kind, with their range; the numbers stand in the table below")
	x := func(v float64) float64 { return left + (right-left)*v/(most*1.02) }
	for i := 0; float64(i)*step <= most; i++ {
		v := float64(i) * step
		d.line("rule", x(v), top-4, x(v), bottom)
		d.text("", "middle", x(v), top-9, fmt.Sprintf("%.3g", v))
	}
	for i, f := range r.False {
		y := top + row*(float64(i)+0.5)
		d.text("name", "end", left-10, y+4, words(f.Kind))
		d.f(`<rect class="bar" x="%s" y="%s" width="%s" height="12"><title>%d false of %d</title></rect>`, n(left), n(y-6), n(x(f.PerYear)-left), f.False, f.Alerts)
		d.line("range", x(f.Low), y, x(f.High), y)
	}
	return d.done()
}
