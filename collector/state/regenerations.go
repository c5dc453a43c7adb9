package state

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/gob"
	"time"

	"brinebell/detect/regeneration"
)

// Regenerations are the recognised regenerations of a home that began in
// from <= start < to, in order.
func (db *DB) Regenerations(ctx context.Context, home string, from, to time.Time) ([]regeneration.Record, error) {
	var out []regeneration.Record
	err := db.each(ctx, func(rows *sql.Rows) error {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return err
		}
		var r regeneration.Record
		if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&r); err != nil {
			return err
		}
		out = append(out, r)
		return nil
	}, `SELECT record FROM regenerations WHERE home = ? AND start >= ? AND start < ? ORDER BY start`, home, bound(from), bound(to))
	return out, err
}

func saveRegeneration(ctx context.Context, tx *sql.Tx, home string, r regeneration.Record) error {
	var data bytes.Buffer
	if err := gob.NewEncoder(&data).Encode(r); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO regenerations (home, start, finish, record) VALUES (?, ?, ?, ?)
		ON CONFLICT (home, start) DO UPDATE SET finish = excluded.finish, record = excluded.record`,
		home, bound(r.Start), bound(r.End), data.Bytes())
	return err
}
