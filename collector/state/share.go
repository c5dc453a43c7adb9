package state

import (
	"context"
	"database/sql"
	"time"
)

// Transact runs do in a transaction of the state store, for the packages that
// keep their own tables in it.
func (db *DB) Transact(ctx context.Context, do func(*sql.Tx) error) error {
	return db.transact(ctx, do)
}

// Each runs a query and hands each row to take.
func (db *DB) Each(ctx context.Context, take func(*sql.Rows) error, query string, args ...any) error {
	return db.each(ctx, take, query, args...)
}

// Now is the time that stamps what is written.
func (db *DB) Now() time.Time { return db.now() }
