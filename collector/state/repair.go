package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"
)

// ErrDamaged is a state store that cannot be read whole.
var ErrDamaged = errors.New("the state store is damaged")

// checkAfterCrash looks through a store that was not closed, as what wrote to it
// may have been cut off by more than a crash.
func checkAfterCrash(ctx context.Context, path string) error {
	if log, err := os.Stat(path + "-wal"); err != nil || log.Size() == 0 {
		return nil // closed, or not there yet
	}
	problems, err := QuickCheck(ctx, path)
	if ctx.Err() != nil {
		return ctx.Err() // a check that was broken off says nothing of the store
	}
	if err != nil || len(problems) == 0 {
		return err
	}
	return fmt.Errorf("%w: %s\nRestore a backup with \"brinebell restore\", or keep what can be read with \"brinebell store check --repair\"", ErrDamaged, problems[0])
}

// Repaired says what a repair came to.
type Repaired struct {
	Kept string // the damaged store, as it was
	Rows int    // that were read
	Lost []Lost
}

// Lost is what could not be read of a table.
type Lost struct {
	Table string
	Rows  int // at most; -1 when that cannot be said
}

// Repair makes a new store of what can be read of a damaged one and puts it in
// its place. The damaged one is kept beside it. Nobody else may use it meanwhile.
func Repair(ctx context.Context, path string) (r Repaired, err error) {
	fresh := path + ".repaired"
	if err := os.Remove(fresh); err != nil && !errors.Is(err, os.ErrNotExist) {
		return r, err
	}
	if err := r.salvage(ctx, path, fresh); err != nil {
		return r, errors.Join(fmt.Errorf("state store %s: %w", path, err), os.Remove(fresh))
	}
	r.Kept = path + ".damaged-" + time.Now().UTC().Format("20060102T150405")
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Rename(path+suffix, r.Kept+suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return r, err
		}
	}
	return r, os.Rename(fresh, path)
}

// salvage copies tables first and what acts on them after, or triggers would write
// what is copied a second time.
func (r *Repaired) salvage(ctx context.Context, path, fresh string) (err error) {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+fresh)
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1) // the damaged store is attached to one connection
	defer func() { err = errors.Join(err, db.Close()) }()
	if _, err := db.ExecContext(ctx, `ATTACH ? AS old`, path); err != nil {
		return err
	}
	objects, err := schema(ctx, db)
	if err != nil {
		return fmt.Errorf("not even its list of tables can be read: %w", err)
	}
	for _, o := range objects {
		if _, err := db.ExecContext(ctx, o.sql); err != nil {
			return fmt.Errorf("%s: %w", o.name, err)
		}
		if o.kind == "table" {
			if err := r.table(ctx, db, o.name); err != nil {
				return err
			}
		}
	}
	return nil
}

type object struct{ kind, name, sql string }

// schema is what the damaged store consists of, tables first.
func schema(ctx context.Context, db *sql.DB) (out []object, err error) {
	rows, err := db.QueryContext(ctx, `SELECT type, name, sql FROM old.sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\_%' ESCAPE '\'
		ORDER BY CASE type WHEN 'table' THEN 0 WHEN 'index' THEN 1 WHEN 'view' THEN 2 ELSE 3 END, rowid`)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var o object
		if err := rows.Scan(&o.kind, &o.name, &o.sql); err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, rows.Err()
}

// table copies what can be read of a table.
func (r *Repaired) table(ctx context.Context, db *sql.DB, name string) error {
	quoted := `"` + strings.ReplaceAll(name, `"`, `""`) + `"`
	insert := `INSERT OR IGNORE INTO main.` + quoted + ` SELECT * FROM old.` + quoted
	if n, err := exec(ctx, db, insert); err == nil {
		r.Rows += n
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	first, last, err := rowids(ctx, db, quoted)
	if err != nil { // a table without row ids, or one of which nothing can be read
		n, err := copyEnds(ctx, db, name, insert)
		r.Rows += n
		r.Lost = append(r.Lost, Lost{name, -1})
		return err
	}
	kept, lost := copyRange(ctx, db, insert+` WHERE rowid BETWEEN ? AND ?`, first, last)
	r.Rows += kept
	r.Lost = append(r.Lost, Lost{name, lost})
	return ctx.Err()
}

func exec(ctx context.Context, db *sql.DB, statement string, args ...any) (int, error) {
	result, err := db.ExecContext(ctx, statement, args...)
	if err != nil {
		return 0, err
	}
	n, err := result.RowsAffected()
	return int(n), err
}

// rowids are the first and last of a table.
func rowids(ctx context.Context, db *sql.DB, quoted string) (first, last int64, err error) {
	for end, order := range map[*int64]string{&first: "ASC", &last: "DESC"} {
		err = errors.Join(err, db.QueryRowContext(ctx, `SELECT rowid FROM old.`+quoted+` ORDER BY rowid `+order+` LIMIT 1`).Scan(end))
	}
	return first, last, err
}

// copyRange copies the rows of a range, halving it where it cannot be read.
func copyRange(ctx context.Context, db *sql.DB, insert string, first, last int64) (kept, lost int) {
	n, err := exec(ctx, db, insert, first, last)
	switch {
	case err == nil:
		return n, 0
	case ctx.Err() != nil:
		return 0, 0
	case first >= last:
		return 0, 1
	}
	middle := first + (last-first)/2
	k1, l1 := copyRange(ctx, db, insert, first, middle)
	k2, l2 := copyRange(ctx, db, insert, middle+1, last)
	return k1 + k2, l1 + l2
}

// copyEnds copies the rows of a table without row ids from either end up to the
// damage.
func copyEnds(ctx context.Context, db *sql.DB, name, insert string) (kept int, err error) {
	var keys sql.NullString
	if err := db.QueryRowContext(ctx, `SELECT group_concat('"' || name || '" #', ', ') FROM (SELECT name FROM pragma_table_info(?, 'old') WHERE pk > 0 ORDER BY pk)`, name).Scan(&keys); err != nil {
		return 0, err
	}
	for _, order := range []string{"ASC", "DESC"} {
		ordered := insert + ` ORDER BY ` + strings.ReplaceAll(keys.String, "#", order) + ` LIMIT ?`
		most := 0 // rows that could be read so
		for step := 1; step > 0 && keys.Valid; {
			n, err := exec(ctx, db, ordered, most+step)
			switch kept += n; {
			case ctx.Err() != nil:
				return kept, ctx.Err()
			case err != nil && most == 0:
				step = 0
			case err != nil:
				step /= 2
			case n == 0: // there are no more
				return kept, nil
			default:
				most += step
				step *= 2
			}
		}
	}
	return kept, nil
}
