package series_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

// TestHistory lets readings grow older than they are kept: they must go, their
// sums stay and be those that follow from the readings, also over a restart, in a
// snapshot, and however often it is asked.
func TestHistory(t *testing.T) {
	ctx := context.Background()
	opts := series.Options{Dir: t.TempDir(), NoSync: true, Window: 10 * 24 * time.Hour, Retention: 10 * 24 * time.Hour}
	s := open(t, opts)
	const days = 32
	begin := noon.Truncate(24 * time.Hour)
	for d := range days {
		add(t, s, minutes("a", begin.AddDate(0, 0, d), 1440))
		if d%10 == 0 {
			must(t, s.SumUp(ctx))
			must(t, s.Compact(ctx))
		}
	}
	must(t, s.SumUp(ctx))
	must(t, s.Compact(ctx))
	end := begin.AddDate(0, 0, days)
	if n := count(t, s, "a"); n > 32*1440-1 || n < 10*1440 {
		t.Errorf("%d readings are left, want the last ten days and what its blocks hold", n)
	}
	checkSums(t, s, begin, end, days)
	must(t, s.Close())
	s = open(t, opts)
	checkSums(t, s, begin, end, days)
	copied := filepath.Join(t.TempDir(), "copy")
	must(t, s.Snapshot(ctx, copied))
	must(t, s.Erase(ctx, "a"))
	if sums, err := s.Sums(ctx, "a", detect.InletVolume, begin, end, time.Hour); err != nil || len(sums) != 0 {
		t.Errorf("%d sums of an erased home, %v", len(sums), err)
	}
	must(t, s.Close())
	opts.Dir = copied
	s = open(t, opts)
	checkSums(t, s, begin, end, days)
	must(t, s.Close())
}

// checkSums holds sums of minutes that count up each day to what that gives.
func checkSums(t *testing.T, s *series.TSDB, begin, end time.Time, days int) {
	t.Helper()
	for width, each := range map[time.Duration]int{5 * time.Minute: 5, time.Hour: 60} {
		sums, err := s.Sums(context.Background(), "a", detect.InletVolume, begin, end, width)
		if err != nil || len(sums) != days*1440/each {
			t.Fatalf("%d sums of %v %v, want %d", len(sums), width, err, days*1440/each)
		}
		for i, sum := range sums {
			first := float64(i * each % 1440)
			want := series.Sum{Start: begin.Add(time.Duration(i) * width), Count: each, Min: first, Max: first + float64(each-1), Mean: first + float64(each-1)/2}
			if math.Abs(sum.Mean-want.Mean) < 1e-9 {
				sum.Mean = want.Mean
			}
			if sum != want {
				t.Fatalf("sum %d is %+v, want %+v", i, sum, want)
			}
		}
	}
}

// TestNothingIsDeletedUnsummed: however old readings are, they stay until they are
// summed up.
func TestNothingIsDeletedUnsummed(t *testing.T) {
	s := open(t, series.Options{Dir: t.TempDir(), NoSync: true, Window: 24 * time.Hour, Retention: 24 * time.Hour})
	defer s.Close()
	for d := range 12 {
		add(t, s, minutes("a", noon.AddDate(0, 0, d), 1440))
	}
	must(t, s.Compact(context.Background()))
	if n := count(t, s, "a"); n != 12*1440 {
		t.Errorf("%d readings, want all %d: none is summed up yet", n, 12*1440)
	}
}
