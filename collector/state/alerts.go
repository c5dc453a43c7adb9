package state

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

// Alert is a stored alert.
type Alert struct {
	detect.Alert
	// Withdrawn is when, by the machine's clock, a run over more complete
	// readings turned out not to raise the alert; zero if it stands.
	Withdrawn time.Time
	// Superseded is the id of the alert that such a run raised instead, of the
	// same kind and the same time but with another onset; empty if there is
	// none. Whoever was told of this one need not be told of that.
	Superseded string
	Updated    time.Time // of the last change, by the machine's clock
}

// Alerts are the alerts of a home, or of all homes when home is empty, in order
// of the time they were raised.
func (db *DB) Alerts(ctx context.Context, home string) ([]Alert, error) {
	var out []Alert
	err := db.each(ctx, func(rows *sql.Rows) error {
		a, err := scanAlert(rows)
		out = append(out, a)
		return err
	}, selectAlerts, home)
	return out, err
}

const (
	alertColumns = `id, home, kind, severity, onset, raised, cleared, withdrawn, coalesce(superseded, ''), summary, causes, evidence, updated`
	selectAlerts = `SELECT ` + alertColumns + `
	FROM alerts WHERE ? IN ('', home) ORDER BY raised, id`
)

// AlertsIn are the same as of a transaction or a view.
func AlertsIn(ctx context.Context, q Querier, home string) (out []Alert, err error) {
	rows, err := q.QueryContext(ctx, selectAlerts, home)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		a, err := scanAlert(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, rows.Err()
}

// Standing are the alerts of all homes that stand.
func (db *DB) Standing(ctx context.Context) (out []Alert, err error) {
	err = db.each(ctx, func(rows *sql.Rows) error {
		a, err := scanAlert(rows)
		out = append(out, a)
		return err
	}, `SELECT `+alertColumns+` FROM alerts WHERE cleared IS NULL AND withdrawn IS NULL ORDER BY raised, id`)
	return out, err
}

func scanAlert(rows *sql.Rows) (Alert, error) {
	var a Alert
	var onset, raised, cleared, withdrawn, updated sql.NullInt64
	var causes, evidence []byte
	err := rows.Scan(&a.ID, &a.Home, &a.Kind, &a.Severity, &onset, &raised, &cleared, &withdrawn, &a.Superseded, &a.Summary, &causes, &evidence, &updated)
	if err != nil {
		return a, err
	}
	a.Onset, a.Raised, a.Cleared = moment(onset), moment(raised), moment(cleared)
	a.Withdrawn, a.Updated = moment(withdrawn), moment(updated)
	if err := json.Unmarshal(causes, &a.Causes); err != nil {
		return a, err
	}
	return a, json.Unmarshal(evidence, &a.Evidence)
}

// saveAlert stores the alert's newest state. An alert that is stored already in
// that state keeps its Updated, and changed is false.
func (db *DB) saveAlert(ctx context.Context, tx *sql.Tx, a detect.Alert) (changed bool, err error) {
	causes, err := json.Marshal(a.Causes)
	if err != nil {
		return false, err
	}
	evidence, err := json.Marshal(finite(a.Evidence))
	if err != nil {
		return false, fmt.Errorf("evidence of %s: %w", a.Kind, err)
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO alerts (id, home, kind, severity, onset, raised, cleared, summary, causes, evidence, updated)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET severity = excluded.severity, raised = excluded.raised, cleared = excluded.cleared, withdrawn = NULL, superseded = NULL,
			summary = excluded.summary, causes = excluded.causes, evidence = excluded.evidence, updated = excluded.updated
		WHERE withdrawn IS NOT NULL OR (severity, raised, coalesce(cleared, 0), summary, causes, evidence)
			<> (excluded.severity, excluded.raised, coalesce(excluded.cleared, 0), excluded.summary, excluded.causes, excluded.evidence)`,
		a.ID, a.Home, string(a.Kind), string(a.Severity), nanos(a.Onset), nanos(a.Raised), nanos(a.Cleared), a.Summary, string(causes), string(evidence), db.now().UnixNano())
	if err != nil {
		return false, err
	}
	rows, err := result.RowsAffected()
	return rows > 0, err
}

// finite is the evidence with null for what JSON cannot say.
func finite(e detect.Evidence) map[string]any {
	out := make(map[string]any, len(e))
	for k, v := range e {
		if f, ok := v.(float64); ok && (math.IsNaN(f) || math.IsInf(f, 0)) {
			v = nil
		}
		out[k] = v
	}
	return out
}
