package state

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// firstVersion is a store as the program's first version left it.
func firstVersion(t *testing.T) (path string) {
	t.Helper()
	dump, err := os.ReadFile("testdata/version1.sql")
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "state.db")
	withSQL(t, path, func(db *sql.DB) error { _, err := db.Exec(string(dump)); return err })
	return path
}

func withSQL(t *testing.T, path string, do func(*sql.DB) error) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := do(db); err != nil {
		t.Fatal(err)
	}
}

// TestUpgradeFromTheFirstVersion opens a store of the first version, and finds
// all that was in it.
func TestUpgradeFromTheFirstVersion(t *testing.T) {
	path := firstVersion(t)
	expectFirst(t, path)
	expectFirst(t, path) // and once more, when there is nothing to do
}

// TestUpgradeFromEachVersion stops on the way at each version there was.
func TestUpgradeFromEachVersion(t *testing.T) {
	steps, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil || len(steps) < 4 {
		t.Fatal(steps, err)
	}
	for version := 2; version <= len(steps); version++ {
		path := firstVersion(t)
		withSQL(t, path, func(db *sql.DB) error {
			files, err := fs.Sub(migrations, "migrations")
			if err != nil {
				return err
			}
			provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
			if err != nil {
				return err
			}
			_, err = provider.UpTo(context.Background(), int64(version))
			return err
		})
		expectFirst(t, path)
	}
}

// TestAKilledUpgradeGoesOn leaves an upgrade as a kill between two of its steps
// does, with the log not yet merged.
func TestAKilledUpgradeGoesOn(t *testing.T) {
	path := firstVersion(t)
	withSQL(t, path, func(db *sql.DB) error {
		_, err := db.Exec(`PRAGMA journal_mode = WAL; BEGIN; CREATE TABLE half (x); ROLLBACK`)
		return err
	})
	expectFirst(t, path)
}

// expectFirst opens a store and looks for what the first version had stored.
func expectFirst(t *testing.T, path string) {
	t.Helper()
	ctx := context.Background()
	start := time.Date(2026, 3, 1, 2, 0, 0, 0, time.UTC)
	db, err := Open(ctx, path, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}()
	homes, err := db.Homes(ctx)
	if err != nil || len(homes) != 1 || homes[0].ID != "mill-lane-4" || homes[0].Profile == "" {
		t.Errorf("homes %+v %v", homes, err)
	}
	alerts, err := db.Alerts(ctx, "mill-lane-4")
	if err != nil || len(alerts) != 2 || alerts[0].Kind != detect.DrainRunning || !alerts[0].Open() || alerts[0].Causes[0].Probability != 0.7 ||
		alerts[0].Evidence["size_l_per_min"] != 1.5 || !alerts[1].Cleared.Equal(start.AddDate(0, 0, 2)) || !alerts[0].Onset.Equal(start) {
		t.Errorf("alerts %+v %v", alerts, err)
	}
	regenerations, err := db.Regenerations(ctx, "mill-lane-4", time.Time{}, start.AddDate(1, 0, 0))
	if err != nil || len(regenerations) != 1 {
		t.Fatalf("regenerations %+v %v", regenerations, err)
	}
	if r := regenerations[0]; r.Entry != nil || r.Record.Ending != regeneration.Completed || r.Record.DrainLitres != 190 || !math.IsNaN(r.Record.RefillLitres) || len(r.Record.Phases) != 1 {
		t.Errorf("regeneration %+v", r)
	}
	if s, ok, err := db.SnapshotBefore(ctx, "mill-lane-4", start.AddDate(0, 0, 4)); err != nil || !ok || string(s.Data) != "of the first version" {
		t.Errorf("snapshot %+v %v %v", s, ok, err)
	}
	if since, ok, err := db.WantedRerun(ctx, "mill-lane-4"); err != nil || !ok || !since.Equal(start.AddDate(0, 0, 1)) {
		t.Errorf("re-run %v %v %v", since, ok, err)
	}
}

// TestAStopWhileItOpensIsNoDamage opens a store that was not closed, and is told
// to stop meanwhile.
func TestAStopWhileItOpensIsNoDamage(t *testing.T) {
	path := firstVersion(t)
	withSQL(t, path, func(db *sql.DB) error { // left open, as by a kill
		if _, err := db.Exec(`PRAGMA journal_mode = WAL; CREATE TABLE something (x)`); err != nil {
			return err
		}
		ctx, stop := context.WithCancel(context.Background())
		stop()
		opened, err := Open(ctx, path, nil)
		if err == nil {
			return opened.Close()
		}
		if errors.Is(err, ErrDamaged) || !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want that it was told to stop", err)
		}
		return nil
	})
}
