package series

import (
	"context"
	"testing"
	"time"

	"brinebell/detect"
)

// TestErase erases one of two homes, in memory and in finished blocks, and takes
// readings for it anew.
func TestErase(t *testing.T) {
	ctx := context.Background()
	s, err := Open(Options{Dir: t.TempDir(), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	begin := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	var batch []detect.Reading
	for i := range 24 * 5 { // five days: three of them go to blocks
		at := begin.Add(time.Duration(i) * time.Hour)
		for _, home := range []string{"a", "b"} {
			batch = append(batch, detect.Reading{Home: home, Signal: detect.InletVolume, Time: at, Value: float64(i)})
		}
	}
	if _, err := s.Append(ctx, batch); err != nil {
		t.Fatal(err)
	}
	if err := s.Compact(ctx); err != nil {
		t.Fatal(err)
	}
	if len(s.db.Blocks()) == 0 {
		t.Fatal("no finished block to erase from")
	}
	if err := s.Erase(ctx, "a"); err != nil {
		t.Fatal(err)
	}
	count := func(home string) int {
		points, err := s.Read(ctx, home, detect.InletVolume, begin, begin.AddDate(0, 1, 0))
		if err != nil {
			t.Fatal(err)
		}
		return len(points)
	}
	if a, b := count("a"), count("b"); a != 0 || b != 24*5 {
		t.Errorf("%d of the erased home, %d of the other", a, b)
	}
	if p, ok, err := s.Latest(ctx, "a", detect.InletVolume); ok || err != nil {
		t.Errorf("newest %v %v", p, err)
	}
	later := []detect.Reading{{Home: "a", Signal: detect.InletVolume, Time: begin.AddDate(0, 0, 6), Value: 1}}
	if _, err := s.Append(ctx, later); err != nil || count("a") != 1 {
		t.Errorf("after it: %d, %v", count("a"), err)
	}
}
