package state_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"brinebell/collector/state"
)

const repairHomes = 2000

// homesStore makes a store with many homes, and a copy of its files.
func homesStore(t *testing.T) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "state.db")
	db, err := state.Open(context.Background(), path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range repairHomes {
		id := fmt.Sprintf("home-%04d", i)
		if err := db.SaveHome(context.Background(), state.Home{ID: id, Profile: id + strings.Repeat(" profile", 60)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// spoil overwrites a page in the middle of the homes.
func spoil(t *testing.T, path string) { spoilAt(t, path, "home-1000 profile") }

// spoilAt overwrites the page on which a text is.
func spoilAt(t *testing.T, path, text string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(data), text)
	if at < 0 {
		t.Fatal("the text is nowhere")
	}
	page := at / 4096 * 4096
	for i := range 4096 {
		data[page+i] = 0xa5
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestRepair loses the rows of a spoilt page and no others.
func TestRepair(t *testing.T) {
	ctx := context.Background()
	path := homesStore(t)
	if problems, err := state.Check(ctx, path); err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	spoil(t, path)
	if problems, err := state.QuickCheck(ctx, path); err != nil || len(problems) == 0 {
		t.Fatal("the damage is not found", err)
	}
	r, err := state.Repair(ctx, path)
	if err != nil || len(r.Lost) != 1 || r.Lost[0].Table != "homes" || r.Lost[0].Rows > 20 || r.Lost[0].Rows < 1 {
		t.Fatalf("%+v %v", r, err)
	}
	if problems, err := state.Check(ctx, path); err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	db, err := state.Open(ctx, path, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	homes, err := db.Homes(ctx)
	if err != nil || len(homes) < repairHomes-r.Lost[0].Rows || len(homes) >= repairHomes {
		t.Errorf("%d homes, %v, lost %+v", len(homes), err, r.Lost)
	}
	if _, err := os.Stat(r.Kept); err != nil {
		t.Error("the damaged store was not kept:", err)
	}
}

// TestDamageAfterCrash: a store that was not closed is looked through.
func TestDamageAfterCrash(t *testing.T) {
	path := homesStore(t)
	spoil(t, path)
	if err := os.WriteFile(path+"-wal", []byte("left by a crash"), 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := state.Open(context.Background(), path, nil)
	if !errors.Is(err, state.ErrDamaged) || !strings.Contains(err.Error(), "--repair") {
		t.Errorf("%v, want damaged", err)
	}
	if err == nil {
		_ = db.Close()
	}
}

// TestRepairWithoutRowIDs: rows are kept from both ends of such a table.
func TestRepairWithoutRowIDs(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "state.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	const rows = 3000
	for _, statement := range []string{`CREATE TABLE t (k TEXT, n INTEGER, v TEXT, PRIMARY KEY (k, n)) WITHOUT ROWID`,
		`WITH RECURSIVE c(i) AS (SELECT 0 UNION ALL SELECT i+1 FROM c WHERE i < 2999) INSERT INTO t SELECT 'key', i, printf('value %05d ', i) || hex(zeroblob(100)) FROM c`} {
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	spoilAt(t, path, "value 01500 ")
	r, err := state.Repair(ctx, path)
	if err != nil || len(r.Lost) != 1 || r.Rows < rows*9/10 || r.Rows >= rows {
		t.Fatalf("%+v %v, want most of %d rows", r, err, rows)
	}
	if problems, err := state.Check(ctx, path); err != nil || len(problems) > 0 {
		t.Error(problems, err)
	}
}
