package series

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"brinebell/detect"
)

// A second reader sees what the store holds, in blocks, in the log and out of
// order, while the store is open.
func TestPeekSeesWhatTheStoreHolds(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	s, err := Open(Options{Dir: dir, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, start := context.Background(), time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	put := func(home string, signal detect.Signal, from, to int, step time.Duration) {
		var batch []detect.Reading
		for i := from; i < to; i++ {
			batch = append(batch, detect.Reading{Home: home, Signal: signal, Time: start.Add(time.Duration(i) * step), Value: float64(i)})
		}
		if rejected, err := s.Append(ctx, batch); err != nil || len(rejected) > 0 {
			t.Fatal(rejected, err)
		}
	}
	put("a", detect.InletFlow, 0, 3000, time.Minute)
	put("b", detect.InletFlow, 0, 3000, time.Minute)
	put("a", detect.BrineLevel, 2000, 3000, time.Minute)
	put("a", detect.BrineLevel, 0, 1000, time.Minute) // late
	from, to := start.Add(500*time.Minute), start.Add(2500*time.Minute)
	want, err := ReadHome(ctx, s, "a", from, to)
	if err != nil || len(want) != 2000+500+500 {
		t.Fatalf("%d readings, %v", len(want), err)
	}
	got, err := Peek(ctx, dir, "a", from, to)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%d readings, want %d: %v", len(got), len(want), err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(dir), "tmp_*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if got, err := Peek(ctx, dir, "c", from, to); err != nil || len(got) != 0 {
		t.Errorf("an unknown home: %v %v", got, err)
	}
	if _, err := Peek(ctx, filepath.Join(dir, "none"), "a", from, to); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no store: %v", err)
	}
}
