package series

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

// TestAppendFlushesAllItWrote notes what each flush covered. After every append
// no segment may hold a byte that was written after its last flush. Segments
// are small, so that they are changed often.
func TestAppendFlushesAllItWrote(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	flushed := map[string]int64{}
	for _, l := range s.sync.logs {
		l.flushFile = func(f *os.File) error {
			info, err := f.Stat()
			flushed[f.Name()] = info.Size()
			return err
		}
	}
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range 40 {
		var batch []detect.Reading
		for j := range 500 {
			at := start.Add(time.Duration(i*500+j) * time.Second)
			batch = append(batch, detect.Reading{Home: "a", Signal: detect.InletVolume, Time: at, Value: float64(j)},
				detect.Reading{Home: "b", Signal: detect.InletVolume, Time: start.Add(-time.Duration(i*500+j) * time.Second), Value: 1})
		}
		if _, err := s.Append(context.Background(), batch); err != nil {
			t.Fatal(err)
		}
		if i%10 == 5 { // as the library does when a segment is full
			rotate(t, s)
		}
		checkFlushed(t, dir, flushed)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// rotate makes the library begin a new segment, by restarting it.
func rotate(t *testing.T, s *TSDB) {
	t.Helper()
	keep := s.sync
	if err := s.db.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := Open(Options{Dir: s.db.Dir(), NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	s.db, s.sync, s.series = again.db, keep, map[key]*entry{}
	for _, l := range s.sync.logs {
		if err := l.flush(); err != nil {
			t.Fatal(err)
		}
	}
}

func checkFlushed(t *testing.T, dir string, flushed map[string]int64) {
	t.Helper()
	segments := 0
	for _, log := range []string{"wal", "wbl"} {
		names, err := filepath.Glob(filepath.Join(dir, log, "*"))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			info, err := os.Stat(name)
			if err != nil || info.IsDir() || strings.Contains(filepath.Base(name), "checkpoint") {
				continue
			}
			segments++
			if info.Size() != flushed[name] {
				t.Fatalf("%s has %d bytes and %d are flushed", name, info.Size(), flushed[name])
			}
		}
	}
	if segments < 2 {
		t.Fatalf("%d segments seen, want those of both logs", segments)
	}
}
