package state

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Snapshot is the state of a home's judging when it had judged all readings
// before Watermark.
type Snapshot struct {
	Watermark time.Time
	Data      []byte
}

// SnapshotBefore is the newest snapshot of a home with a watermark at or before
// t; ok is false when there is none.
func (db *DB) SnapshotBefore(ctx context.Context, home string, t time.Time) (s Snapshot, ok bool, err error) {
	var watermark sql.NullInt64
	err = db.sql.QueryRowContext(ctx, `SELECT watermark, data FROM snapshots WHERE home = ? AND watermark <= ? ORDER BY watermark DESC LIMIT 1`,
		home, bound(t)).Scan(&watermark, &s.Data)
	if errors.Is(err, sql.ErrNoRows) {
		return s, false, nil
	}
	if err != nil {
		return s, false, fmt.Errorf("state store: %w", err)
	}
	s.Watermark = moment(watermark)
	return s, true, nil
}

// NewestSnapshots are the watermarks of the newest snapshot of each home that
// has any.
func (db *DB) NewestSnapshots(ctx context.Context) (map[string]time.Time, error) {
	out := map[string]time.Time{}
	err := db.each(ctx, func(rows *sql.Rows) error {
		var home string
		var w sql.NullInt64
		err := rows.Scan(&home, &w)
		out[home] = moment(w)
		return err
	}, `SELECT home, max(watermark) FROM snapshots GROUP BY home`)
	return out, err
}

// Watermarks are those of a home's snapshots, newest first.
func (db *DB) Watermarks(ctx context.Context, home string) (out []time.Time, err error) {
	err = db.each(ctx, func(rows *sql.Rows) error {
		var w sql.NullInt64
		err := rows.Scan(&w)
		out = append(out, moment(w))
		return err
	}, `SELECT watermark FROM snapshots WHERE home = ? ORDER BY watermark DESC`, home)
	return out, err
}

// saveSnapshot adds a snapshot and thins the older ones out.
func saveSnapshot(ctx context.Context, tx *sql.Tx, home string, s Snapshot) error {
	if _, err := tx.ExecContext(ctx, `INSERT INTO snapshots (home, watermark, data) VALUES (?, ?, ?)
		ON CONFLICT (home, watermark) DO UPDATE SET data = excluded.data`, home, bound(s.Watermark), s.Data); err != nil {
		return err
	}
	rows, err := tx.QueryContext(ctx, `SELECT watermark FROM snapshots WHERE home = ? ORDER BY watermark DESC`, home)
	if err != nil {
		return err
	}
	var watermarks []int64
	for rows.Next() {
		var w int64
		if err := rows.Scan(&w); err != nil {
			return errors.Join(err, rows.Close())
		}
		watermarks = append(watermarks, w)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	for _, w := range superfluous(watermarks) {
		if _, err := tx.ExecContext(ctx, `DELETE FROM snapshots WHERE home = ? AND watermark = ?`, home, w); err != nil {
			return err
		}
	}
	return nil
}

// The newest snapshots are all kept; the older they are the farther apart they
// may be, by a share of their age. So a late reading costs a re-run not much
// longer than it is late, and a year needs some twenty-five snapshots of a home.
const (
	keepAll  = 3
	keepPart = 2 // gaps of half the age
)

// superfluous are those of a home's watermarks, newest first, that need not be
// kept.
func superfluous(watermarks []int64) (drop []int64) {
	for i, last := keepAll, keepAll-1; i < len(watermarks); i++ {
		age := watermarks[0] - watermarks[i]
		oldest := i == len(watermarks)-1
		if !oldest && watermarks[last]-watermarks[i+1] <= age/keepPart {
			drop = append(drop, watermarks[i])
			continue
		}
		last = i
	}
	return drop
}
