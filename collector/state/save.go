package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// Progress is what the judging of a home has come to since it was last saved.
type Progress struct {
	Home          string
	Alerts        []detect.Alert // whose state has changed
	Regenerations []regeneration.Record
	Snapshots     []Snapshot
	// Rerun is set when the progress is that of a run from an earlier snapshot
	// over readings that have been judged before.
	Rerun *Rerun
}

// Rerun says from where a home was judged again.
type Rerun struct {
	// From is the watermark of the snapshot that the run began with; the zero
	// time when it began with nothing. Whatever was concluded after it and is
	// not in the progress is withdrawn.
	From time.Time
}

// Save stores progress, all or nothing. Saving it twice changes nothing.
func (db *DB) Save(ctx context.Context, p Progress) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		if p.Rerun != nil {
			if err := db.withdraw(ctx, tx, p); err != nil {
				return err
			}
		}
		for _, a := range p.Alerts {
			if err := db.saveAlert(ctx, tx, a); err != nil {
				return err
			}
		}
		for _, r := range p.Regenerations {
			if err := saveRegeneration(ctx, tx, p.Home, r); err != nil {
				return err
			}
		}
		for _, s := range p.Snapshots {
			if err := saveSnapshot(ctx, tx, p.Home, s); err != nil {
				return err
			}
		}
		return nil
	})
}

// withdraw takes back what an earlier run concluded after the re-run's
// beginning: alerts raised since are withdrawn, unless the progress raises them
// again; those cleared since stand open, unless it clears them again;
// regenerations and snapshots go, and so does the wish for the re-run.
func (db *DB) withdraw(ctx context.Context, tx *sql.Tx, p Progress) error {
	from := bound(p.Rerun.From)
	again := map[string]bool{}
	for _, a := range p.Alerts {
		again[a.ID] = true
	}
	ids, err := idsRaisedAfter(ctx, tx, p.Home, from)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if again[id] {
			continue
		}
		if _, err := tx.ExecContext(ctx, `UPDATE alerts SET withdrawn = ?, updated = ? WHERE id = ? AND withdrawn IS NULL`,
			db.now().UnixNano(), db.now().UnixNano(), id); err != nil {
			return err
		}
	}
	for _, statement := range []string{
		`UPDATE alerts SET cleared = NULL WHERE home = ? AND raised <= ?2 AND cleared > ?2`,
		`DELETE FROM regenerations WHERE home = ? AND finish > ?2`,
		`DELETE FROM snapshots WHERE home = ? AND watermark > ?2`,
		`DELETE FROM reruns WHERE home = ? AND since >= ?2`,
	} {
		if _, err := tx.ExecContext(ctx, statement, p.Home, from); err != nil {
			return err
		}
	}
	return nil
}

func idsRaisedAfter(ctx context.Context, tx *sql.Tx, home string, from int64) (ids []string, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT id FROM alerts WHERE home = ? AND raised > ?`, home, from)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, rows.Err()
}

// WantRerun notes that a home has stored readings from a time on which its
// judging has not seen.
func (db *DB) WantRerun(ctx context.Context, home string, since time.Time) error {
	return db.transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO reruns (home, since) VALUES (?, ?)
			ON CONFLICT (home) DO UPDATE SET since = min(since, excluded.since)`, home, bound(since))
		return err
	})
}

// WantedRerun is the oldest time noted by WantRerun that no re-run has covered
// yet; ok is false when there is none.
func (db *DB) WantedRerun(ctx context.Context, home string) (since time.Time, ok bool, err error) {
	var n sql.NullInt64
	err = db.sql.QueryRowContext(ctx, `SELECT since FROM reruns WHERE home = ?`, home).Scan(&n)
	if errors.Is(err, sql.ErrNoRows) {
		return since, false, nil
	}
	if err != nil {
		return since, false, fmt.Errorf("state store: %w", err)
	}
	return moment(n), true, nil
}
