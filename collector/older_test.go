package collector

import (
	"context"
	"math"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// TestPointsOfLongAgo asks for a year of which only the last days are there as
// readings: the rest must come from sums, without a gap or an overlap.
func TestPointsOfLongAgo(t *testing.T) {
	ctx := context.Background()
	store, err := series.Open(series.Options{Dir: t.TempDir(), NoSync: true, Window: 5 * 24 * time.Hour, Retention: 5 * 24 * time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	const days = 50
	for d := range days {
		var batch []detect.Reading
		for i := range 288 {
			at := begin.AddDate(0, 0, d).Add(time.Duration(i) * 5 * time.Minute)
			batch = append(batch, detect.Reading{Home: "a", Signal: detect.InletVolume, Time: at, Value: float64(d*288 + i)})
		}
		if _, err := store.Append(ctx, batch); err != nil {
			t.Fatal(err)
		}
	}
	if err := store.SumUp(ctx); err != nil {
		t.Fatal(err)
	}
	if err := store.Compact(ctx); err != nil {
		t.Fatal(err)
	}
	c, err := Open(ctx, Options{Dir: t.TempDir(), Store: store, Homes: []detect.Home{detect.DefaultHome("a", time.UTC)}, Broker: BrokerOptions{Listen: "127.0.0.1:0"}})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	raw, err := store.Read(ctx, "a", detect.InletVolume, begin, begin.AddDate(1, 0, 0))
	if err != nil || len(raw) >= days*288 {
		t.Fatalf("%d readings are left %v, want fewer than all", len(raw), err)
	}
	buckets, err := c.Points(ctx, "a", detect.InletVolume, begin, begin.AddDate(0, 0, days), 100)
	if err != nil || len(buckets) == 0 || len(buckets) > 101 {
		t.Fatalf("%d buckets %v", len(buckets), err)
	}
	count, sum := 0, 0.0
	for i, b := range buckets {
		count += b.Count
		sum += b.Mean * float64(b.Count)
		if i > 0 && b.First <= buckets[i-1].First {
			t.Errorf("bucket %d begins at %v, the one before at %v", i, b.First, buckets[i-1].First)
		}
	}
	if n := days * 288; count != n || math.Abs(sum/float64(n)-float64(n-1)/2) > 1e-6 {
		t.Errorf("%d readings with a mean of %v, want %d with %v", count, sum/float64(count), n, float64(n-1)/2)
	}
}
