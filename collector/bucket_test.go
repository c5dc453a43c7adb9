package collector

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/collector/series"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func TestDownsampleKeepsWhatMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var points []series.Point
		at := noon
		sum, lo, hi := 0.0, math.Inf(1), math.Inf(-1)
		for _, v := range rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 200).Draw(t, "values") {
			at = at.Add(time.Duration(rapid.IntRange(1, 1e7).Draw(t, "gap")) * time.Millisecond)
			points = append(points, series.Point{Time: at, Value: v})
			sum, lo, hi = sum+v, min(lo, v), max(hi, v)
		}
		n := rapid.IntRange(1, 100).Draw(t, "n")
		from := rapid.SampledFrom([]time.Time{noon, {}}).Draw(t, "from")
		got := downsample(points, from, at.AddDate(5000, 0, 0), n)
		if len(got) > n {
			t.Fatalf("%d buckets, want at most %d", len(got), n)
		}
		count, total := 0, 0.0
		gotLo, gotHi := math.Inf(1), math.Inf(-1)
		for i, b := range got {
			count += b.Count
			total += b.Mean * float64(b.Count)
			gotLo, gotHi = min(gotLo, b.Min), max(gotHi, b.Max)
			if b.Min > b.Mean+1e-6 || b.Max < b.Mean-1e-6 || i > 0 && !b.Start.After(got[i-1].End) || b.End.Before(b.Start) {
				t.Fatalf("bucket %d of %v", i, got)
			}
		}
		if count != len(points) || gotLo != lo || gotHi != hi || math.Abs(total-sum) > 1e-6*float64(count)*1e3 {
			t.Fatalf("%d points with sum %v in %v", len(points), sum, got)
		}
		if got[0].First != points[0].Value || got[len(got)-1].Last != points[len(points)-1].Value {
			t.Fatalf("first and last of %v", got)
		}
	})
	if got := downsample(nil, noon, noon, 5); got != nil {
		t.Errorf("%v of nothing", got)
	}
}
