package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Querier is what can be asked: a transaction or a View.
type Querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// View reads as of one moment, without keeping anybody from writing.
func (db *DB) View(ctx context.Context, read func(Querier) error) (err error) {
	c, err := db.sql.Conn(ctx)
	if err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	// BeginTx would take the lock for writing.
	if _, err := c.ExecContext(ctx, `BEGIN DEFERRED`); err != nil {
		return fmt.Errorf("state store: %w", err)
	}
	defer func() {
		_, end := c.ExecContext(context.WithoutCancel(ctx), `ROLLBACK`)
		err = errors.Join(err, end)
	}()
	return read(c)
}
