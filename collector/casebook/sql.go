package casebook

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"brinebell/collector/state"
)

// rows runs a query and hands each row to take.
func rows(ctx context.Context, q state.Querier, take func(*sql.Rows) error, query string, args ...any) (err error) {
	r, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	for r.Next() {
		if err := take(r); err != nil {
			return err
		}
	}
	return r.Err()
}

// nanos is a time as it is kept; NULL for the zero time.
func nanos(t time.Time) sql.NullInt64 { return sql.NullInt64{Int64: t.UnixNano(), Valid: !t.IsZero()} }

// moment is nanos' inverse.
func moment(n sql.NullInt64) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return time.Unix(0, n.Int64).UTC()
}
