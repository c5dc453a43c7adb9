package state

import (
	"context"
	"database/sql"
)

// Home is a home's profile as text.
type Home struct {
	ID      string
	Profile string // YAML
}

// SaveHome stores a home's profile.
func (db *DB) SaveHome(ctx context.Context, h Home) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO homes (id, profile, updated) VALUES (?, ?, ?)
			ON CONFLICT (id) DO UPDATE SET profile = excluded.profile, updated = excluded.updated WHERE profile <> excluded.profile`,
			h.ID, h.Profile, db.now().UnixNano())
		return err
	})
}

// Homes are all homes in order of their ids.
func (db *DB) Homes(ctx context.Context) ([]Home, error) {
	var out []Home
	err := db.each(ctx, func(rows *sql.Rows) error {
		var h Home
		if err := rows.Scan(&h.ID, &h.Profile); err != nil {
			return err
		}
		out = append(out, h)
		return nil
	}, `SELECT id, profile FROM homes ORDER BY id`)
	return out, err
}
