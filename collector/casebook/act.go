package casebook

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// Doing is what a person does about a case.
type Doing struct {
	Act     care.Act
	Alert   string       // of Answer and NotTrue: the alert; empty for the case
	Cause   detect.Cause // of Repair: what was found to be the cause
	Text    string       // of Note, Answer, AskHouse and AskFirm
	Due     time.Time    // of Acknowledge and AskFirm: when somebody means to see to it; may be zero
	Version int64        // what the person has seen; 0 for whatever it is now
}

// Act takes a person's step. What is not possible is a *care.Refusal; to whom
// the home is not known the case is not there.
func (b *Book) Act(ctx context.Context, by care.Person, id string, do Doing) (Case, error) {
	home, err := b.homeOf(ctx, id)
	if err != nil {
		return Case{}, err
	}
	if !by.May(care.SeeLife, b.place(home)) {
		return Case{}, ErrNoCase
	}
	if len(do.Text) > MaxText {
		return Case{}, ErrText
	}
	err = b.work(ctx, home, func(d *desk) error {
		f := d.file(id)
		switch {
		case f == nil:
			return ErrNoCase // erased meanwhile
		case do.Version != 0 && do.Version != f.Last().Seq:
			return ErrVersion
		case !by.May(do.Act.Needs(), d.place):
			return &care.Refusal{Act: do.Act, Stage: f.Stage, Why: "You may not do this here.", Instead: f.Can(by.Role)}
		}
		return d.act(ctx, f, by, do)
	})
	if err != nil {
		return Case{}, plain(err)
	}
	return b.Case(ctx, id)
}

func (b *Book) homeOf(ctx context.Context, id string) (home string, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error { return r.Scan(&home) }, `SELECT home FROM cases WHERE id = ?`, id)
	if err == nil && home == "" {
		err = ErrNoCase
	}
	return home, err
}

func (d *desk) act(ctx context.Context, f *file, by care.Person, do Doing) error {
	s := care.Step{At: d.book.opts.Clock().UTC(), By: by.ID, Act: do.Act, Alert: do.Alert, Cause: do.Cause, Text: strings.TrimSpace(do.Text), Due: do.Due}
	if do.Act == care.Reopened {
		f.told = ""
	}
	// Who is asked is told; who asked is told of the answer.
	tell := do.Act == care.AskHouse || do.Act == care.AskFirm || do.Act == care.Answer || do.Act == care.Reopened
	if err := d.step(ctx, f, s, by, tell); err != nil {
		return err
	}
	switch do.Act {
	case care.Repair:
		return d.confirm(ctx, f, by, do.Cause)
	case care.NotTrue:
		return d.notTrue(ctx, f, do.Alert)
	case care.Reopened:
		return d.undo(ctx, f, by.ID)
	}
	return nil
}

// confirm keeps the cause that a technician found. One said before of the same
// repair was wrong then.
func (d *desk) confirm(ctx context.Context, f *file, by care.Person, cause detect.Cause) error {
	if by.Role != care.Technician && by.Role != care.Manager {
		return nil
	}
	if err := d.undo(ctx, f, by.ID); err != nil {
		return err
	}
	_, err := d.tx.ExecContext(ctx, `INSERT INTO confirmations (firm, home, case_id, cause, "by", at) VALUES (?, ?, ?, ?, ?, ?)`,
		d.place.Firm, d.home, f.ID, string(cause), by.ID, f.Last().At.UnixNano())
	return err
}

// undo takes back what was confirmed since the case was last opened: what comes
// back was not that, or not that alone.
func (d *desk) undo(ctx context.Context, f *file, by string) error {
	_, err := d.tx.ExecContext(ctx, `UPDATE confirmations SET undone = ?, undone_by = ? WHERE id = (SELECT max(id) FROM confirmations WHERE case_id = ?) AND undone IS NULL`,
		d.book.opts.Clock().UnixNano(), by, f.ID)
	return err
}

// notTrue keeps that an alert, or every alert of a case, was a false one.
func (d *desk) notTrue(ctx context.Context, f *file, alert string) error {
	alerts := f.Alerts
	if alert != "" {
		alerts = []string{alert}
	}
	var errs []error
	for _, id := range alerts {
		_, err := d.tx.ExecContext(ctx, `UPDATE verdicts SET not_true = 1 WHERE alert = ?`, id)
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}
