package series_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/series"
	"brinebell/collector/series/seriestest"
	"brinebell/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func open(t testing.TB, opts series.Options) *series.TSDB {
	t.Helper()
	s, err := series.Open(opts)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestConformance(t *testing.T) {
	seriestest.Run(t, func(t *testing.T) series.Store { return open(t, series.Options{Dir: t.TempDir(), NoSync: true}) })
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func minutes(home string, from time.Time, n int) (out []detect.Reading) {
	for i := range n {
		out = append(out, detect.Reading{Home: home, Signal: detect.InletVolume, Time: from.Add(time.Duration(i) * time.Minute), Value: float64(i)})
	}
	return out
}

func count(t *testing.T, s series.Store, home string) int {
	t.Helper()
	points, err := s.Read(context.Background(), home, detect.InletVolume, time.Time{}, noon.AddDate(10, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range points {
		if i > 0 && !p.Time.After(points[i-1].Time) {
			t.Fatalf("point %d at %v after %v", i, p.Time, points[i-1].Time)
		}
	}
	return len(points)
}

func add(t testing.TB, s series.Store, readings []detect.Reading) []series.Rejected {
	t.Helper()
	rejected, err := s.Append(context.Background(), readings)
	if err != nil {
		t.Fatal(err)
	}
	return rejected
}

// TestRedeliveredThroughCompaction delivers a week again after it has been
// written to blocks, and again after a restart: it must stay one week.
func TestRedeliveredThroughCompaction(t *testing.T) {
	dir := t.TempDir()
	const week = 7 * 24 * 60
	batch := minutes("a", noon, week)
	s := open(t, series.Options{Dir: dir, NoSync: true})
	for range 2 {
		add(t, s, batch)
		if got := count(t, s, "a"); got != week {
			t.Fatalf("%d points, want %d", got, week)
		}
		if err := s.Compact(context.Background()); err != nil {
			t.Fatal(err)
		}
		if got := count(t, s, "a"); got != week {
			t.Fatalf("%d points after compaction, want %d", got, week)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = open(t, series.Options{Dir: dir, NoSync: true})
	}
	p, ok, err := s.Latest(context.Background(), "a", detect.InletVolume)
	if err != nil || !ok || p.Value != week-1 {
		t.Errorf("latest %v %v %v after a restart", p, ok, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestWindow(t *testing.T) {
	s := open(t, series.Options{Dir: t.TempDir(), NoSync: true, Window: 30 * 24 * time.Hour})
	defer s.Close()
	add(t, s, minutes("a", noon, 1))
	late := append(minutes("b", noon.AddDate(0, 0, -29), 1), minutes("b", noon.AddDate(0, 0, -31), 1)...)
	late = append(late, minutes("a", noon.Add(time.Hour), 1)...)
	rejected := add(t, s, late)
	if len(rejected) != 1 || rejected[0].Index != 1 || !errors.Is(rejected[0].Err, series.ErrTooOld) {
		t.Errorf("rejected %v, want the reading of 31 days ago", rejected)
	}
	if got := count(t, s, "a") + count(t, s, "b"); got != 3 {
		t.Errorf("%d points, want 3", got)
	}
}

func TestConflictKeepsTheFirst(t *testing.T) {
	s := open(t, series.Options{Dir: t.TempDir(), NoSync: true})
	defer s.Close()
	batch := minutes("a", noon, 1)
	add(t, s, batch)
	batch[0].Value = 5
	rejected := add(t, s, batch)
	if len(rejected) != 1 || !errors.Is(rejected[0].Err, series.ErrConflict) {
		t.Errorf("rejected %v, want a conflict", rejected)
	}
	p, _, err := s.Latest(context.Background(), "a", detect.InletVolume)
	if err != nil || p.Value != 0 {
		t.Errorf("%v %v, want the first value", p, err)
	}
}

func TestOptions(t *testing.T) {
	for _, bad := range []series.Options{{}, {Dir: "x", Window: -1}, {Dir: "x", Window: 48 * time.Hour, Retention: 24 * time.Hour}} {
		if s, err := series.Open(bad); err == nil {
			t.Errorf("%+v was opened", bad)
			_ = s.Close()
		}
	}
}
