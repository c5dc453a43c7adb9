package backup_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/backup"
	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

const days = 4

// stores makes a data folder with both stores, which stay open.
func stores(t *testing.T) (data string, s *series.TSDB, db *state.DB) {
	t.Helper()
	data = t.TempDir()
	s, err := series.Open(series.Options{Dir: filepath.Join(data, backup.SeriesDir), NoSync: true})
	must(t, err)
	t.Cleanup(func() { must(t, s.Close()) })
	db, err = state.Open(context.Background(), filepath.Join(data, backup.StateFile), nil)
	must(t, err)
	t.Cleanup(func() { must(t, db.Close()) })
	must(t, db.SaveHome(context.Background(), state.Home{ID: "mill-lane-4", Profile: "id: mill-lane-4"}))
	var batch []detect.Reading
	for i := range days * 1440 {
		batch = append(batch, detect.Reading{Home: "mill-lane-4", Signal: detect.InletVolume, Time: noon.Add(time.Duration(i) * time.Minute), Value: float64(i)})
	}
	rejected, err := s.Append(context.Background(), batch)
	if must(t, err); len(rejected) > 0 {
		t.Fatal(rejected)
	}
	return data, s, db
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func archive(t *testing.T) []byte {
	t.Helper()
	data, s, _ := stores(t)
	var out bytes.Buffer
	m, err := backup.Make(context.Background(), &out, data, s, noon, "1.2.3")
	if must(t, err); !m.Readings || len(m.Files) < 4 || m.Bytes() < 1000 {
		t.Fatalf("manifest %+v", m)
	}
	if left, _ := filepath.Glob(filepath.Join(data, "backup-*")); len(left) > 0 {
		t.Errorf("%v is left behind", left)
	}
	return out.Bytes()
}

// TestThereAndBack restores what was backed up while the stores were open.
func TestThereAndBack(t *testing.T) {
	text := archive(t)
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "below", "data")
	m, err := backup.Restore(ctx, bytes.NewReader(text), dir, backup.Check)
	if must(t, err); m.Program != "1.2.3" || !m.Made.Equal(noon) {
		t.Errorf("manifest %+v", m)
	}
	s, err := series.Open(series.Options{Dir: filepath.Join(dir, backup.SeriesDir)})
	must(t, err)
	defer s.Close()
	points, err := s.Read(ctx, "mill-lane-4", detect.InletVolume, noon, noon.AddDate(1, 0, 0))
	if err != nil || len(points) != days*1440 {
		t.Errorf("%d readings %v, want %d", len(points), err, days*1440)
	}
	db, err := state.Open(ctx, filepath.Join(dir, backup.StateFile), nil)
	must(t, err)
	defer db.Close()
	homes, err := db.Homes(ctx)
	if err != nil || len(homes) != 1 || homes[0].Profile != "id: mill-lane-4" {
		t.Errorf("homes %v %v", homes, err)
	}
}

// TestNothingIsOverwritten: also an empty folder may be there, no other.
func TestNothingIsOverwritten(t *testing.T) {
	text := archive(t)
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "mine"), nil, 0o600))
	if _, err := backup.Restore(context.Background(), bytes.NewReader(text), dir, backup.Check); !errors.Is(err, backup.ErrNotEmpty) {
		t.Errorf("%v, want refused", err)
	}
	must(t, os.Remove(filepath.Join(dir, "mine")))
	if _, err := backup.Restore(context.Background(), bytes.NewReader(text), dir, backup.Check); err != nil {
		t.Error(err)
	}
}

// TestBroken cuts an archive and turns its bits: none may be restored, and nothing
// be left behind.
func TestBroken(t *testing.T) {
	text := archive(t)
	try := func(what string, at int, text []byte) {
		t.Helper()
		parent := t.TempDir()
		_, err := backup.Restore(context.Background(), bytes.NewReader(text), filepath.Join(parent, "data"), backup.Check)
		if !errors.Is(err, backup.ErrBroken) {
			t.Errorf("%s at byte %d of %d: %v, want broken", what, at, len(text), err)
		}
		if left, _ := os.ReadDir(parent); len(left) > 0 {
			t.Errorf("%s at byte %d: %v is left behind", what, at, left)
		}
	}
	end := len(text) - 2*512 // what follows is the padding of a tar's end
	manifest := bytes.LastIndex(text, []byte(`"files"`))
	for at := 0; at < end; at += len(text)/40 + 1 {
		try("cut", at, text[:at])
	}
	for at := 700; at < manifest; at += len(text)/40 + 1 {
		bad := bytes.Clone(text)
		bad[at] ^= 1
		if _, err := backup.Verify(context.Background(), bytes.NewReader(bad)); err == nil && !padding(text, at) {
			t.Errorf("turned at byte %d: not noticed", at)
		}
	}
	try("nothing", 0, nil)
}

// padding says whether a byte only fills a block of the archive, or a time in it.
func padding(text []byte, at int) bool {
	return text[at] == 0 || bytes.Contains(text[at/512*512:at/512*512+512], []byte("ustar"))
}

// TestForeignNames: an archive from elsewhere must not write beside its folder.
func TestForeignNames(t *testing.T) {
	text := bytes.ReplaceAll(archive(t), []byte("state.db"), []byte("../te.db"))
	_, err := backup.Restore(context.Background(), bytes.NewReader(text), filepath.Join(t.TempDir(), "data"), backup.Check)
	if !errors.Is(err, backup.ErrBroken) {
		t.Errorf("%v, want broken", err)
	}
}

// TestReadingsElsewhere leaves them out of the archive and says so.
func TestReadingsElsewhere(t *testing.T) {
	data, _, _ := stores(t)
	var out bytes.Buffer
	m, err := backup.Make(context.Background(), &out, data, struct{ series.Store }{}, noon, "x")
	if must(t, err); m.Readings || len(m.Files) != 1 || strings.Contains(out.String(), "series/") {
		t.Errorf("manifest %+v", m)
	}
	if _, err := backup.Restore(context.Background(), &out, filepath.Join(t.TempDir(), "data"), backup.Check); err != nil {
		t.Error(err)
	}
}
