package state

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"time"

	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver
)

//go:embed migrations/*.sql
var migrations embed.FS

// DB is the state store. It may be used by several goroutines.
type DB struct {
	sql *sql.DB
	now func() time.Time
	log string // path of SQLite's log, which Sync flushes; empty when only read
	// writing is held by the one who writes: SQLite would let the next one wait
	// by sleeping ever longer.
	writing chan struct{}
}

// Open opens the state store in the file at path, making it or bringing it to
// the newest form if need be. now stamps updates; time.Now when nil.
func Open(ctx context.Context, path string, now func() time.Time) (*DB, error) {
	if now == nil {
		now = time.Now
	}
	if err := checkAfterCrash(ctx, path); err != nil {
		return nil, fmt.Errorf("state store %s: %w", path, err)
	}
	pragmas := url.Values{"_pragma": {
		"journal_mode(WAL)",   // readers do not wait for the writer
		"synchronous(NORMAL)", // safe against kill; after a power cut a commit may be missing, and is made again from the readings
		"busy_timeout(10000)",
		"foreign_keys(1)",
	}, "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?"+pragmas.Encode())
	if err != nil {
		return nil, fmt.Errorf("state store %s: %w", path, err)
	}
	if err := migrate(ctx, db); err != nil {
		return nil, errors.Join(fmt.Errorf("state store %s: %w", path, err), db.Close())
	}
	return &DB{sql: db, now: now, log: path + "-wal", writing: make(chan struct{}, 1)}, nil
}

func migrate(ctx context.Context, db *sql.DB) error {
	provider, err := migrator(db)
	if err != nil {
		return err
	}
	_, err = provider.Up(ctx)
	return err
}

// migrator makes the steps from one form of the store to the next.
func migrator(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files)
}

// Close closes the store.
func (db *DB) Close() error { return db.sql.Close() }

// transact runs do in a transaction.
func (db *DB) transact(ctx context.Context, do func(*sql.Tx) error) error {
	select {
	case db.writing <- struct{}{}:
		defer func() { <-db.writing }()
	case <-ctx.Done():
		return fmt.Errorf("state store: %w", ctx.Err())
	}
	tx, err := db.sql.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	if err := do(tx); err != nil {
		return errors.Join(fmt.Errorf("state store: %w", err), tx.Rollback())
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	return nil
}

// each runs a query and hands each row to take.
func (db *DB) each(ctx context.Context, take func(*sql.Rows) error, query string, args ...any) (err error) {
	rows, err := db.sql.QueryContext(ctx, query, args...)
	if err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := take(rows); err != nil {
			return fmt.Errorf("state store: %w", err)
		}
	}
	return rows.Err()
}

// nanos is a time as it is kept; NULL for the zero time.
func nanos(t time.Time) sql.NullInt64 {
	return sql.NullInt64{Int64: t.UnixNano(), Valid: !t.IsZero()}
}

// moment is nanos' inverse.
func moment(n sql.NullInt64) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return time.Unix(0, n.Int64).UTC()
}

// bound is a time as a limit of a query, where the zero time and any other that
// nanoseconds cannot hold stand for the farthest on their side.
func bound(t time.Time) int64 {
	switch {
	case t.Before(time.Unix(0, -1<<63)):
		return -1 << 63
	case t.After(time.Unix(0, 1<<63-1)):
		return 1<<63 - 1
	}
	return t.UnixNano()
}
