package state

import (
	"context"
	"database/sql"
)

// Search is a search that somebody keeps by a name.
type Search struct{ Name, Query string }

// mostSearches is how many one person keeps; the oldest go.
const mostSearches = 50

// Searches are those a person keeps, by name; of everybody where nobody signs
// in, when person is empty.
func (db *DB) Searches(ctx context.Context, person string) ([]Search, error) {
	var out []Search
	err := db.each(ctx, func(rows *sql.Rows) error {
		var s Search
		if err := rows.Scan(&s.Name, &s.Query); err != nil {
			return err
		}
		out = append(out, s)
		return nil
	}, `SELECT name, query FROM searches WHERE coalesce(person, '') = ? ORDER BY name COLLATE NOCASE`, person)
	return out, err
}

// SaveSearch keeps a search, in place of one of the same name.
func (db *DB) SaveSearch(ctx context.Context, person string, s Search) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `INSERT INTO searches (person, name, query) VALUES (nullif(?, ''), ?, ?)
			ON CONFLICT (coalesce(person, ''), name) DO UPDATE SET query = excluded.query`, person, s.Name, s.Query); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM searches WHERE coalesce(person, '') = ?1 AND rowid NOT IN
			(SELECT rowid FROM searches WHERE coalesce(person, '') = ?1 ORDER BY rowid DESC LIMIT ?2)`, person, mostSearches)
		return err
	})
}

// ForgetSearch forgets a search; one that is not there is forgotten already.
func (db *DB) ForgetSearch(ctx context.Context, person, name string) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM searches WHERE coalesce(person, '') = ? AND name = ?`, person, name)
		return err
	})
}
