package web

import (
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// daily is the numbers behind a picture, one row a local day, the newest first.
func (r reader) daily(about subject, points []Point, e extent) table {
	t := table{Head: r.List("table.level")}
	if about.dimension == detect.FlowRate {
		t.Head = r.List("table.flow")
	}
	for end := len(points); end > 0; {
		day := chart.Midnight(points[end-1].Time, r.loc)
		start := end
		for start > 0 && !points[start-1].Time.Before(day) {
			start--
		}
		t.Rows = append(t.Rows, r.dayRow(day, points[start:end], about.dimension, e.step()))
		end = start
	}
	return t
}

func (r reader) dayRow(day time.Time, points []Point, d detect.Dimension, step time.Duration) []string {
	highest, least := extremes(points)
	if d == detect.FlowRate {
		return []string{r.day(day), r.amount(litres(points, step), detect.Volume), r.amount(highest.Max, d), r.amount(least, d)}
	}
	return []string{r.day(day), r.amount(least, d), r.amount(highest.Max, d), r.amount(points[len(points)-1].Mean, d)}
}
