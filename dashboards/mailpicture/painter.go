package mailpicture

import (
	"bytes"
	"context"
	"fmt"
	"image/color"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"brinebell/detect"
)

// Point is the readings of one signal over one span of time, in the signal's
// canonical unit. Of a running total Min is its start and Max its end.
type Point struct {
	Time           time.Time
	Min, Mean, Max float64
}

// Source is where the readings come from.
type Source interface {
	Home(id string) (detect.Home, bool)
	// Points are the readings in from <= time < to, oldest first, in at most so
	// many spans.
	Points(ctx context.Context, home string, s detect.Signal, from, to time.Time, most int) ([]Point, error)
	// Now is the time of the home's newest reading.
	Now(home string) time.Time
}

// Painter draws.
type Painter struct{ Source Source }

// The size of a picture, and how finely it is drawn: sharp on a telephone.
const (
	width, height = 6.4 * vg.Inch, 2.6 * vg.Inch
	dpi           = 150
	spans         = 400 // of time; more cannot be told apart
)

var (
	ink     = color.RGBA{R: 0x1f, G: 0x3a, B: 0x5f, A: 0xff}
	spread  = color.RGBA{R: 0x9f, G: 0xb4, B: 0xcc, A: 0xff}
	trouble = color.RGBA{R: 0xf6, G: 0xe3, B: 0xc8, A: 0xff}
)

// Evidence draws the most telling signal that the home has around an alert; nil
// when it has none of them.
func (p Painter) Evidence(ctx context.Context, a detect.Alert) (png []byte, says string, err error) {
	home, ok := p.Source.Home(a.Home)
	if !ok {
		return nil, "", nil
	}
	from, to := around(a, p.Source.Now(a.Home))
	for _, s := range telling(a) {
		points, err := p.points(ctx, a.Home, s, from, to)
		if err != nil {
			return nil, "", err
		}
		if len(points) > 1 {
			return paint(a, home, s, points, from, to)
		}
	}
	return nil, "", nil
}

// points are a signal's; of a flow that nobody measures, those of its total.
func (p Painter) points(ctx context.Context, home string, s detect.Signal, from, to time.Time) ([]Point, error) {
	points, err := p.Source.Points(ctx, home, s, from, to, spans)
	total, ok := totals[s]
	if err != nil || len(points) > 1 || !ok {
		return points, err
	}
	points, err = p.Source.Points(ctx, home, total, from, to, spans)
	return flows(points), err
}

// flows are what a total rose by from span to span, L/min. A total that falls
// was set back and says nothing.
func flows(total []Point) (out []Point) {
	for i := 1; i < len(total); i++ {
		before, p := total[i-1], total[i]
		if minutes := p.Time.Sub(before.Time).Minutes(); minutes > 0 && p.Max >= before.Max {
			v := (p.Max - before.Max) / minutes
			out = append(out, Point{p.Time, v, v, v})
		}
	}
	return out
}

func paint(a detect.Alert, home detect.Home, s detect.Signal, points []Point, from, to time.Time) (png []byte, says string, err error) {
	unit, in := unitOf(s, home.Units)
	mean, low, high := make(plotter.XYs, len(points)), make(plotter.XYs, len(points)), make(plotter.XYs, len(points))
	top := 0.0
	for i, q := range points {
		x := float64(q.Time.Unix())
		mean[i], low[i], high[i] = plotter.XY{X: x, Y: in(q.Mean)}, plotter.XY{X: x, Y: in(q.Min)}, plotter.XY{X: x, Y: in(q.Max)}
		top = max(top, in(q.Max))
	}
	pl := plot.New()
	pl.BackgroundColor = color.White
	pl.Y.Label.Text = fmt.Sprintf("%s, %s", names[s], unit)
	pl.Y.Min, pl.Y.Max = 0, max(top*1.05, 1e-3)
	pl.X.Min, pl.X.Max = float64(from.Unix()), float64(to.Unix())
	pl.X.Tick.Marker = ticks{home.Location}
	end := to
	if !a.Open() {
		end = a.Cleared
	}
	band, err := area(plotter.XYs{{X: float64(a.Onset.Unix()), Y: pl.Y.Max}, {X: float64(end.Unix()), Y: pl.Y.Max}}, plotter.XYs{{X: float64(a.Onset.Unix())}, {X: float64(end.Unix())}}, trouble)
	if err != nil {
		return nil, "", err
	}
	between, err := area(high, low, spread)
	if err != nil {
		return nil, "", err
	}
	line, err := plotter.NewLine(mean)
	if err != nil {
		return nil, "", err
	}
	line.Color, line.Width = ink, vg.Points(1)
	pl.Add(band, between, line)
	canvas := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	pl.Draw(draw.New(canvas))
	var b bytes.Buffer
	_, err = vgimg.PngCanvas{Canvas: canvas}.WriteTo(&b)
	says = fmt.Sprintf("%s from %s to %s, at most %.3g %s. The time of the trouble is shaded from %s on.", names[s], clock(from, home), clock(to, home), top, unit, clock(a.Onset, home))
	return b.Bytes(), says, err
}

// area is what lies between two curves.
func area(upper, lower plotter.XYs, fill color.Color) (*plotter.Polygon, error) {
	outline := append(plotter.XYs{}, upper...)
	for i := len(lower) - 1; i >= 0; i-- {
		outline = append(outline, lower[i])
	}
	p, err := plotter.NewPolygon(outline)
	if err != nil {
		return nil, err
	}
	p.Color, p.LineStyle.Width = fill, 0
	return p, nil
}

func clock(t time.Time, h detect.Home) string { return t.In(h.Location).Format("2 January 15:04") }
