package series

import (
	"time"
)

// Sum is what remains of the readings of a stretch of time.
type Sum struct {
	Start          time.Time // of the stretch, a multiple of its length from Unix time 0
	Count          int
	Min, Mean, Max float64
}

// sumsOf sums points, which are in order, up by stretches.
func sumsOf(points []Point, width time.Duration) (sums []Sum) {
	for _, p := range points {
		start := p.Time.Truncate(width)
		if len(sums) == 0 || !sums[len(sums)-1].Start.Equal(start) {
			sums = append(sums, Sum{Start: start, Min: p.Value, Max: p.Value})
		}
		s := &sums[len(sums)-1]
		s.Count++
		s.Min, s.Max = min(s.Min, p.Value), max(s.Max, p.Value)
		s.Mean += (p.Value - s.Mean) / float64(s.Count)
	}
	return sums
}

// A sum is kept as four points of one series, at its start and the milliseconds
// after it, so that there are no more series than of readings.
const (
	minOffset = iota
	meanOffset
	maxOffset
	countOffset
	numOffsets
)

// points are a sum as it is kept.
func (s Sum) points() [numOffsets]Point {
	var out [numOffsets]Point
	for i, v := range [numOffsets]float64{minOffset: s.Min, meanOffset: s.Mean, maxOffset: s.Max, countOffset: float64(s.Count)} {
		out[i] = Point{s.Start.Add(time.Duration(i) * time.Millisecond), v}
	}
	return out
}

// sumsFrom puts sums together again; what is not whole is left out.
func sumsFrom(points []Point, width time.Duration) (sums []Sum) {
	for i := 0; i+numOffsets <= len(points); {
		p := points[i : i+numOffsets]
		start := p[0].Time.Truncate(width)
		if !p[0].Time.Equal(start) || !p[countOffset].Time.Equal(start.Add(countOffset*time.Millisecond)) {
			i++
			continue
		}
		sums = append(sums, Sum{Start: start.UTC(), Count: int(p[countOffset].Value), Min: p[minOffset].Value, Mean: p[meanOffset].Value, Max: p[maxOffset].Value})
		i += numOffsets
	}
	return sums
}
