package state

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/gob"
	"time"

	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// Regeneration is a recognised regeneration with what the books say of it.
type Regeneration struct {
	Record regeneration.Record
	Entry  *books.Entry // nil when it was stored before entries were kept
}

// Regenerations are the recognised regenerations of a home that began in
// from <= start < to, in order.
func (db *DB) Regenerations(ctx context.Context, home string, from, to time.Time) ([]Regeneration, error) {
	var out []Regeneration
	err := db.each(ctx, func(rows *sql.Rows) error {
		var record, entry []byte
		if err := rows.Scan(&record, &entry); err != nil {
			return err
		}
		r, err := readRegeneration(record, entry)
		out = append(out, r)
		return err
	}, `SELECT record, entry FROM regenerations WHERE home = ? AND start >= ? AND start < ? ORDER BY start`, home, bound(from), bound(to))
	return out, err
}

func readRegeneration(record, entry []byte) (r Regeneration, err error) {
	if err := gob.NewDecoder(bytes.NewReader(record)).Decode(&r.Record); err != nil {
		return r, err
	}
	if len(entry) == 0 {
		return r, nil
	}
	r.Entry = new(books.Entry)
	return r, gob.NewDecoder(bytes.NewReader(entry)).Decode(r.Entry)
}

func saveRegeneration(ctx context.Context, tx *sql.Tx, home string, r Regeneration) error {
	var record, entry bytes.Buffer
	if err := gob.NewEncoder(&record).Encode(r.Record); err != nil {
		return err
	}
	if r.Entry != nil {
		if err := gob.NewEncoder(&entry).Encode(r.Entry); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO regenerations (home, start, finish, record, entry) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (home, start) DO UPDATE SET finish = excluded.finish, record = excluded.record, entry = excluded.entry`,
		home, bound(r.Record.Start), bound(r.Record.End), record.Bytes(), entry.Bytes())
	return err
}
