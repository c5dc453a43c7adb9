package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"brinebell/detect"
)

// Progress is what the judging of a home has come to since it was last saved.
type Progress struct {
	Home          string
	Alerts        []detect.Alert // whose state has changed
	Regenerations []Regeneration
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

// Save stores progress, all or nothing. Saving it twice changes nothing. It
// returns the alerts that were not stored in that state already: those that
// there is news of.
func (db *DB) Save(ctx context.Context, p Progress) (news []detect.Alert, err error) {
	err = db.transact(ctx, func(tx *sql.Tx) error {
		if p.Rerun != nil {
			if err := db.withdraw(ctx, tx, p); err != nil {
				return err
			}
		}
		for _, a := range p.Alerts {
			changed, err := db.saveAlert(ctx, tx, a)
			if err != nil {
				return err
			}
			if changed {
				news = append(news, a)
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
	if err != nil {
		return nil, err
	}
	if len(news) > 0 { // people are told of it, and should not be told again
		if err := db.Sync(); err != nil {
			return nil, err
		}
	}
	return news, nil
}

// withdraw takes back what an earlier run concluded after the re-run's
// beginning: alerts raised since are withdrawn, unless the progress raises them
// again; those cleared since stand open, unless it clears them again;
// regenerations and snapshots go, and so does the wish for the re-run.
func (db *DB) withdraw(ctx context.Context, tx *sql.Tx, p Progress) error {
	from := bound(p.Rerun.From)
	earlier, err := raisedAfter(ctx, tx, p.Home, from)
	if err != nil {
		return err
	}
	for _, a := range earlier {
		if slices.ContainsFunc(p.Alerts, func(again detect.Alert) bool { return again.ID == a.ID }) {
			continue
		}
		now := db.now().UnixNano()
		if _, err := tx.ExecContext(ctx, `UPDATE alerts SET withdrawn = coalesce(withdrawn, ?1), updated = ?1, superseded = nullif(?2, '') WHERE id = ?3`,
			now, successor(a, p.Alerts), a.ID); err != nil {
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

// successor is the id of the alert that stands in the place of one that is
// withdrawn: the first of its kind that overlaps it in time.
func successor(a detect.Alert, alerts []detect.Alert) string {
	for _, b := range alerts {
		if b.Kind == a.Kind && (a.Open() || b.Onset.Before(a.Cleared)) && (b.Open() || a.Onset.Before(b.Cleared)) {
			return b.ID
		}
	}
	return ""
}

// raisedAfter are a home's alerts raised after a time: their ids, kinds and
// spans.
func raisedAfter(ctx context.Context, tx *sql.Tx, home string, from int64) (out []detect.Alert, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT id, kind, onset, cleared FROM alerts WHERE home = ? AND raised > ?`, home, from)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var a detect.Alert
		var onset, cleared sql.NullInt64
		if err := rows.Scan(&a.ID, &a.Kind, &onset, &cleared); err != nil {
			return nil, err
		}
		a.Onset, a.Cleared = moment(onset), moment(cleared)
		out = append(out, a)
	}
	return out, rows.Err()
}

// WantRerun notes that a home has stored readings from a time on which its
// judging has not seen. It survives a loss of power.
func (db *DB) WantRerun(ctx context.Context, home string, since time.Time) error {
	err := db.transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO reruns (home, since) VALUES (?, ?)
			ON CONFLICT (home) DO UPDATE SET since = min(since, excluded.since)`, home, bound(since))
		return err
	})
	if err != nil {
		return err
	}
	return db.Sync()
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
