package chart

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
)

// Scale places values between Low and High on 0 to 1. With Root it goes by the
// square root, so that a flow of a hundredth of the largest still shows at a
// tenth of the height; Low is then taken as 0.
type Scale struct {
	Low, High float64
	Root      bool
}

// headroom is the share of a panel left free above the highest value.
const headroom = 0.08

// ScaleFor spans from zero to a little above the highest of the points, and at
// least to atLeast, so that noise round zero does not fill the panel.
func ScaleFor(points []Point, atLeast float64, root bool) Scale {
	high := atLeast
	for _, p := range points {
		if p.Max > high && !math.IsInf(p.Max, 0) {
			high = p.Max
		}
	}
	if high <= 0 {
		high = 1
	}
	return Scale{High: high * (1 + headroom), Root: root}
}

// At is where v stands, 0 at the bottom and 1 at the top; values outside are
// held at the edge.
func (s Scale) At(v float64) float64 {
	share := (v - s.Low) / (s.High - s.Low)
	if s.Root {
		share = math.Sqrt(max(0, v/s.High))
	}
	return min(1, max(0, share))
}

// Tick is one labelled mark.
type Tick struct {
	At    float64 // 0 to 1
	Label string
}

// Ticks are the round values worth a line, lowest first, labelled by write (nil:
// Number). A root scale gets one
// more, a tenth of the first, because that is where a drip stands.
func (s Scale) Ticks(write func(float64) string) []Tick {
	if write == nil {
		write = Number
	}
	var values []float64
	for _, t := range (plot.DefaultTicks{}).Ticks(s.Low, s.High) {
		if !t.IsMinor() && t.Value >= s.Low {
			values = append(values, t.Value)
		}
	}
	slices.Sort(values)
	if first, ok := firstAbove(values, s.Low); s.Root && ok {
		values = append(values, first/10)
		slices.Sort(values)
	}
	ticks := make([]Tick, len(values))
	for i, v := range values {
		ticks[i] = Tick{s.At(v), write(v)}
	}
	return ticks
}

func firstAbove(values []float64, low float64) (float64, bool) {
	for _, v := range values {
		if v > low {
			return v, true
		}
	}
	return 0, false
}

// Number writes a tick's value without needless digits.
func Number(v float64) string {
	if math.Abs(v) < 1e-12 {
		return "0"
	}
	return strconv.FormatFloat(v, 'g', 4, 64)
}
