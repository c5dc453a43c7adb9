package collector

import (
	"context"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// older are sums of a signal from before its first reading that is kept, as
// buckets; none when the store keeps no sums, or readings go back far enough.
func (c *Collector) older(ctx context.Context, home string, signal detect.Signal, from, to time.Time, width time.Duration, kept []series.Point) ([]Bucket, error) {
	h, ok := c.store.(series.History)
	if !ok {
		return nil, nil
	}
	if len(kept) > 0 {
		to = kept[0].Time
	}
	if to.Sub(from) < width {
		return nil, nil // no more than a bucket is missing
	}
	sums, err := h.Sums(ctx, home, signal, from, to, width)
	if err != nil {
		return nil, err
	}
	out := make([]Bucket, 0, len(sums))
	for _, s := range sums {
		b := Bucket{Start: s.Start, End: s.Start, Count: s.Count, Min: s.Min, Max: s.Max, Mean: s.Mean, First: s.Mean, Last: s.Mean}
		if signal.IsTotal() { // it counts up, but where it was reset
			b.First, b.Last = s.Min, s.Max
		}
		out = append(out, b)
	}
	return out, nil
}

// fold puts buckets, in order of time, together in spans of at least width.
func fold(buckets []Bucket, from time.Time, width time.Duration) (out []Bucket) {
	current := int64(-1)
	for _, b := range buckets {
		index := int64(b.Start.Sub(from) / max(width, 1))
		if index != current || len(out) == 0 {
			out = append(out, b)
			current = index
			continue
		}
		last := &out[len(out)-1]
		last.Mean += (b.Mean - last.Mean) * float64(b.Count) / float64(last.Count+b.Count)
		last.Count += b.Count
		last.End, last.Last = b.End, b.Last
		last.Min, last.Max = min(last.Min, b.Min), max(last.Max, b.Max)
	}
	return out
}
