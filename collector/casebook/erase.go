package casebook

import (
	"context"
	"database/sql"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// Export is all that the casebook holds of a home, as plain data.
type Export struct {
	Cases         []ExportedCase `json:"cases"`
	Reports       []Report       `json:"reports"`
	Confirmations []Confirmation `json:"confirmations"`
}

// ExportedCase is a case as plain data.
type ExportedCase struct {
	ID     string         `json:"id"`
	Stage  care.Stage     `json:"stage"`
	Into   string         `json:"joined_to,omitempty"`
	Alerts []string       `json:"alerts"`
	Opened time.Time      `json:"opened"`
	Cause  detect.Cause   `json:"cause,omitempty"`
	Steps  []ExportedStep `json:"steps"`
}

// ExportedStep is a step as plain data.
type ExportedStep struct {
	At    time.Time    `json:"at"`
	By    string       `json:"by,omitempty"`
	Act   care.Act     `json:"act"`
	Alert string       `json:"alert,omitempty"`
	Cause detect.Cause `json:"cause,omitempty"`
	Text  string       `json:"text,omitempty"`
	Due   time.Time    `json:"due,omitzero"`
}

// Export hands out all that is known of a home's cases, those that went into
// others among them.
func (b *Book) Export(ctx context.Context, home string) (x Export, err error) {
	var ids []string
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var id string
		err := r.Scan(&id)
		ids = append(ids, id)
		return err
	}, `SELECT id FROM cases WHERE home = ? ORDER BY opened, id`, home)
	for _, id := range ids {
		c, err := b.Case(ctx, id)
		if err != nil {
			return x, err
		}
		x.Cases = append(x.Cases, exported(c))
	}
	if err != nil {
		return x, err
	}
	if x.Reports, err = b.Reports(ctx, home); err != nil {
		return x, err
	}
	x.Confirmations, err = b.confirmations(ctx, `home = ? ORDER BY id`, home)
	return x, err
}

func exported(c Case) ExportedCase {
	e := ExportedCase{ID: c.ID, Stage: c.Stage, Into: c.Into, Alerts: c.Alerts, Opened: c.Opened, Cause: c.Cause}
	for _, s := range c.Steps {
		e.Steps = append(e.Steps, ExportedStep{s.At, s.By, s.Act, s.Alert, s.Cause, s.Text, s.Due})
	}
	return e
}

// erasures are what goes with a home, in order. What was confirmed there stays
// as a bare count of the firm's, without home or person.
var erasures = []string{
	`INSERT INTO erasing (home) VALUES (?1) ON CONFLICT DO NOTHING`,
	`DELETE FROM outbox WHERE home = ?1`,
	`DELETE FROM deliveries WHERE id IN (SELECT delivery FROM messages WHERE home = ?1) AND NOT EXISTS (SELECT 1 FROM messages m WHERE m.delivery = deliveries.id AND m.home <> ?1)`,
	`DELETE FROM messages WHERE home = ?1`,
	`DELETE FROM reports WHERE home = ?1`,
	`DELETE FROM steps WHERE home = ?1`,
	`DELETE FROM case_alerts WHERE home = ?1`,
	`DELETE FROM cases WHERE home = ?1`,
	`DELETE FROM alert_changes WHERE alert IN (SELECT id FROM alerts WHERE home = ?1)`,
	`UPDATE verdicts SET home = '', alert = lower(hex(randomblob(16))) WHERE home = ?1`,
	`UPDATE confirmations SET home = '', case_id = '', "by" = '', undone_by = '' WHERE home = ?1`,
	`DELETE FROM erasing WHERE home = ?1`,
}

// Erase forgets everything about a home: cases, steps, reports and messages that
// were still to be sent. Alerts at the broker go with the next look.
func (b *Book) Erase(ctx context.Context, home string) error {
	err := b.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		for _, statement := range erasures {
			if _, err := tx.ExecContext(ctx, statement, home); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		b.tell(home)
	}
	return err
}
