package collector

import (
	"time"

	"brinebell/collector/series"
)

// Bucket sums up the readings of a stretch of time. Of a running total, First
// and Last say what went through.
type Bucket struct {
	Start, End     time.Time // of its first and last reading
	Count          int
	Min, Max, Mean float64
	First, Last    float64
}

// downsample puts points, which lie in from <= time < to, into at most n buckets
// of equal length, leaving out those without a reading. Few points stay as they
// are, each a bucket of its own.
func downsample(points []series.Point, from, to time.Time, n int) []Bucket {
	if n <= 0 || len(points) == 0 {
		return nil
	}
	// An empty end of the span would waste buckets; a caller may ask for all
	// of time.
	if first := points[0].Time; from.Before(first) {
		from = first
	}
	if after := points[len(points)-1].Time.Add(time.Millisecond); to.After(after) {
		to = after
	}
	width := to.Sub(from)/time.Duration(n) + 1
	out := make([]Bucket, 0, min(n, len(points)))
	current := -1
	for i, p := range points {
		index := int(p.Time.Sub(from) / width)
		if len(points) <= n {
			index = i
		}
		if index != current {
			out = append(out, Bucket{Start: p.Time, Min: p.Value, Max: p.Value, First: p.Value})
			current = index
		}
		out[len(out)-1].add(p)
	}
	return out
}

// add takes a point in. The mean is kept as a running one, which does not
// overflow or lose a total's last digits.
func (b *Bucket) add(p series.Point) {
	b.Count++
	b.End, b.Last = p.Time, p.Value
	b.Min, b.Max = min(b.Min, p.Value), max(b.Max, p.Value)
	b.Mean += (p.Value - b.Mean) / float64(b.Count)
}
