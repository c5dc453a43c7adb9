package series_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/collector/series"
)

// crashed makes a store of days, the last of them in its log, and a copy of its
// files as they are while it is open, as a crash leaves them.
func crashed(t *testing.T, days int) (dir string) {
	t.Helper()
	live := t.TempDir()
	s := open(t, series.Options{Dir: live, NoSync: true})
	defer s.Close()
	for h := range days * 24 { // in parts, so that the log has many records
		add(t, s, minutes("a", noon.Add(time.Duration(h)*time.Hour), 60))
	}
	if err := s.Compact(context.Background()); err != nil { // or it would do so while it is copied
		t.Fatal(err)
	}
	add(t, s, minutes("b", noon, 60)) // late
	dir = t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(live)); err != nil {
		t.Fatal(err)
	}
	_ = os.Remove(filepath.Join(dir, "lock"))
	return dir
}

// flip turns a bit of a file, at a place counted from its end if negative.
func flip(t *testing.T, path string, at int64) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if at < 0 {
		at += int64(len(data))
	}
	data[at] ^= 4
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func oneOf(t *testing.T, pattern string) string {
	t.Helper()
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		t.Fatalf("no %s: %v", pattern, err)
	}
	return names[0]
}

// TestCrashIsNoDamage: the copy of an open store opens whole.
func TestCrashIsNoDamage(t *testing.T) {
	dir := crashed(t, 6)
	s := open(t, series.Options{Dir: dir, NoSync: true})
	defer s.Close()
	if n := count(t, s, "a") + count(t, s, "b"); n != 6*1440+60 || len(s.Damage()) != 0 {
		t.Errorf("%d readings, damage %v", n, s.Damage())
	}
}

// TestTornLog cuts the log's end: all but the torn record are there, and the late
// readings of the other log too.
func TestTornLog(t *testing.T) {
	dir := crashed(t, 6)
	wal := lastSegment(t, dir, "wal")
	info, err := os.Stat(wal)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(wal, info.Size()-5); err != nil {
		t.Fatal(err)
	}
	s := open(t, series.Options{Dir: dir, NoSync: true})
	defer s.Close()
	// The last record is that of home b's name or readings; of a all is there.
	if n := count(t, s, "a"); n != 6*1440 || len(s.Damage()) != 0 {
		t.Errorf("%d readings, damage %v", n, s.Damage())
	}
}

func lastSegment(t *testing.T, dir, log string) string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, log, "0*"))
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	return names[len(names)-1]
}

// TestDamagedLog turns a bit early in the log, with more segments behind: the
// library alone would drop all that follows.
func TestDamagedLog(t *testing.T) {
	dir := crashed(t, 6)
	// A segment behind makes it damage and not an end that is cut off.
	again := open(t, series.Options{Dir: dir, NoSync: true})
	add(t, again, minutes("a", noon.AddDate(0, 0, 6), 600))
	behind := t.TempDir()
	if err := os.CopyFS(behind, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	_ = again.Close()
	_ = os.Remove(filepath.Join(behind, "lock"))
	names, _ := filepath.Glob(filepath.Join(behind, "wal", "0*"))
	if len(names) < 2 {
		t.Fatalf("segments %v, want two", names)
	}
	flip(t, names[0], 500)
	s := open(t, series.Options{Dir: behind, NoSync: true})
	defer s.Close()
	if len(s.Damage()) != 1 || !strings.HasPrefix(s.Damage()[0].Part, "wal/") {
		t.Errorf("damage %v", s.Damage())
	}
	points, err := s.Read(context.Background(), "a", minutes("a", noon, 1)[0].Signal, noon.AddDate(0, 0, 6), noon.AddDate(0, 0, 7))
	if err != nil || len(points) != 600 {
		t.Errorf("%d readings of the last day %v, want 600: all that comes behind the damage", len(points), err)
	}
	if _, err := os.Stat(oneOf(t, filepath.Join(behind, series.DamagedDir, "logs-*", "wal"))); err != nil {
		t.Error(err)
	}
}

// TestDamagedBlock spoils blocks in ways in which the library would not open: the
// store must open without them and say so.
func TestDamagedBlock(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, block string){
		"no meta":     func(t *testing.T, b string) { must(t, os.Remove(filepath.Join(b, "meta.json"))) },
		"half a meta": func(t *testing.T, b string) { must(t, os.Truncate(filepath.Join(b, "meta.json"), 20)) },
		"no index":    func(t *testing.T, b string) { must(t, os.Remove(filepath.Join(b, "index"))) },
		"half index":  func(t *testing.T, b string) { must(t, os.Truncate(filepath.Join(b, "index"), 100)) },
		"no chunks":   func(t *testing.T, b string) { must(t, os.RemoveAll(filepath.Join(b, "chunks"))) },
	} {
		dir := crashed(t, 5)
		block := oneOf(t, filepath.Join(dir, "01*"))
		spoil(t, block)
		s := open(t, series.Options{Dir: dir, NoSync: true})
		if n := count(t, s, "a"); len(s.Damage()) != 1 || s.Damage()[0].Part != filepath.Base(block) || n >= 5*1440 || n < 1440 {
			t.Errorf("%s: %d readings, damage %v", name, n, s.Damage())
		}
		if _, err := os.Stat(filepath.Join(dir, series.DamagedDir, filepath.Base(block))); err != nil {
			t.Errorf("%s: the block was not kept: %v", name, err)
		}
		must(t, s.Close())
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestCheck finds every turned bit in a block's data, and nothing in a sound
// store.
func TestCheck(t *testing.T) {
	dir := crashed(t, 5)
	c, err := series.Check(context.Background(), dir, nil)
	if err != nil || len(c.Damage) != 0 || c.Blocks == 0 || c.Samples == 0 {
		t.Fatalf("%+v %v of a sound store", c, err)
	}
	chunk := oneOf(t, filepath.Join(dir, "01*", "chunks", "000001"))
	info, err := os.Stat(chunk)
	must(t, err)
	for at := int64(10); at < info.Size(); at += info.Size() / 17 {
		flip(t, chunk, at)
		if c, err := series.Check(context.Background(), dir, nil); err != nil || len(c.Damage) != 1 {
			t.Errorf("byte %d of %d: %+v %v", at, info.Size(), c, err)
		}
		flip(t, chunk, at)
	}
	flip(t, lastSegment(t, dir, "wal"), -1)
	if c, err := series.Check(context.Background(), dir, nil); err != nil || len(c.Damage) != 1 || !c.Damage[0].Torn {
		t.Errorf("%+v %v of a log with a bad end", c, err)
	}
}

// TestSnapshot copies a store while it is written to: what was there before is in
// the copy, and late readings too.
func TestSnapshot(t *testing.T) {
	s := open(t, series.Options{Dir: t.TempDir(), NoSync: true})
	defer s.Close()
	add(t, s, minutes("a", noon, 5*1440))
	add(t, s, minutes("late", noon.AddDate(0, 0, -30), 100))
	stop, stopped := make(chan bool), make(chan bool)
	go func() {
		defer close(stopped)
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				// Within an hour, or the store would have to compact all the time.
				at := noon.AddDate(0, 0, 5).Add(time.Duration(i%3_600_000) * time.Millisecond)
				_, _ = s.Append(context.Background(), minutes("live", at, 1))
			}
		}
	}()
	to := filepath.Join(t.TempDir(), "copy")
	err := s.Snapshot(context.Background(), to)
	close(stop)
	<-stopped
	must(t, err)
	if c, err := series.Check(context.Background(), to, nil); err != nil || len(c.Damage) != 0 {
		t.Errorf("%+v %v", c, err)
	}
	again := open(t, series.Options{Dir: to, NoSync: true})
	defer again.Close()
	if n, late := count(t, again, "a"), count(t, again, "late"); n != 5*1440 || late != 100 {
		t.Errorf("%d and %d late readings in the copy, want %d and 100", n, late, 5*1440)
	}
	// It goes on like the first one.
	add(t, again, minutes("a", noon.AddDate(0, 0, 5), 10))
	add(t, again, minutes("a", noon, 10))
	if n := count(t, again, "a"); n != 5*1440+10 {
		t.Errorf("%d readings after going on, want %d", n, 5*1440+10)
	}
}

func TestSnapshotOfNothing(t *testing.T) {
	s := open(t, series.Options{Dir: t.TempDir(), NoSync: true})
	defer s.Close()
	must(t, s.Snapshot(context.Background(), filepath.Join(t.TempDir(), "copy")))
}
