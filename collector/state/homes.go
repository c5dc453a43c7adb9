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

// FileHome stores a home's profile as a homes file has it, if that is not how
// the file had it the last time: what people changed since stands until somebody
// changes the file.
func (db *DB) FileHome(ctx context.Context, h Home) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO homes (id, profile, filed, updated) VALUES (?1, ?2, ?2, ?3)
			ON CONFLICT (id) DO UPDATE SET profile = excluded.profile, filed = excluded.filed, updated = excluded.updated WHERE filed <> excluded.filed`,
			h.ID, h.Profile, db.now().UnixNano())
		return err
	})
}

// erasures are what goes with a home, its row last: an erasure that was cut off
// can be done again.
var erasures = []string{
	`DELETE FROM alerts WHERE home = ?`,
	`DELETE FROM regenerations WHERE home = ?`,
	`DELETE FROM snapshots WHERE home = ?`,
	`DELETE FROM reruns WHERE home = ?`,
	`DELETE FROM person_homes WHERE home = ?`,
	`DELETE FROM devices WHERE home = ?`,
	`DELETE FROM audit WHERE home = ?`,
	`DELETE FROM homes WHERE id = ?`,
}

// EraseHome forgets a home with all that follows from its readings, its devices
// and its audit trail.
func (db *DB) EraseHome(ctx context.Context, home string) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		for _, statement := range erasures {
			if _, err := tx.ExecContext(ctx, statement, home); err != nil {
				return err
			}
		}
		return nil
	})
}

// Home is a home of that id; one without a profile when there is none.
func (db *DB) Home(ctx context.Context, id string) (h Home, err error) {
	h.ID = id
	err = db.each(ctx, func(rows *sql.Rows) error { return rows.Scan(&h.Profile) }, `SELECT profile FROM homes WHERE id = ?`, id)
	return h, err
}
