package casebook

import (
	"context"
	"database/sql"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// Confirmation is a cause that a firm's people found at a home.
type Confirmation struct {
	ID       int64        `json:"id"`
	Firm     string       `json:"firm"`
	Home     string       `json:"home"`
	Case     string       `json:"case"`
	Cause    detect.Cause `json:"cause"`
	By       string       `json:"by"`
	At       time.Time    `json:"at"`
	Undone   time.Time    `json:"undone,omitzero"`
	UndoneBy string       `json:"undone_by,omitempty"` // empty for the engine, when the repair did not hold
}

// Confirmations are those of a firm, newest first, undone ones among them.
func (b *Book) Confirmations(ctx context.Context, firm string) ([]Confirmation, error) {
	return b.confirmations(ctx, `firm = ? ORDER BY id DESC`, firm)
}

func (b *Book) confirmations(ctx context.Context, condition string, args ...any) (out []Confirmation, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var c Confirmation
		var at, undone sql.NullInt64
		err := r.Scan(&c.ID, &c.Firm, &c.Home, &c.Case, &c.Cause, &c.By, &at, &undone, &c.UndoneBy)
		c.At, c.Undone = moment(at), moment(undone)
		out = append(out, c)
		return err
	}, `SELECT id, firm, home, case_id, cause, "by", at, undone, undone_by FROM confirmations WHERE `+condition, args...)
	return out, err
}

// Experience is what a firm has confirmed and not undone. Other firms' does not
// count: they see other water and other softeners.
func (b *Book) Experience(ctx context.Context, firm string) (cause.Experience, error) {
	var x cause.Experience
	all, err := b.Confirmations(ctx, firm)
	for _, c := range all {
		if c.Undone.IsZero() {
			x.Add(c.Cause)
		}
	}
	return x, err
}

// Undo takes a confirmation back. Who may not settle cases at its home is told
// that there is none.
func (b *Book) Undo(ctx context.Context, by care.Person, id int64) error {
	found, err := b.confirmations(ctx, `id = ? AND undone IS NULL`, id)
	if err != nil {
		return err
	}
	if len(found) == 0 || !by.May(care.Settle, b.place(found[0].Home)) || found[0].Firm != by.Firm {
		return ErrNoConfirmation
	}
	return b.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE confirmations SET undone = ?, undone_by = ? WHERE id = ? AND undone IS NULL`, b.opts.Clock().UnixNano(), by.ID, id)
		return err
	})
}

// FalseAlarms counts the alerts of one kind and severity at a firm's homes.
type FalseAlarms struct {
	Kind     detect.Kind     `json:"kind"`
	Severity detect.Severity `json:"severity"`
	Said     int             `json:"said"`   // not to be true
	Raised   int             `json:"raised"` // in all
}

// FalseAlarms are a firm's, in order of kind and severity.
func (b *Book) FalseAlarms(ctx context.Context, firm string) (out []FalseAlarms, err error) {
	err = b.opts.State.Each(ctx, func(r *sql.Rows) error {
		var f FalseAlarms
		err := r.Scan(&f.Kind, &f.Severity, &f.Said, &f.Raised)
		out = append(out, f)
		return err
	}, `SELECT kind, severity, sum(not_true), count(*) FROM verdicts WHERE firm = ? GROUP BY kind, severity ORDER BY kind, severity`, firm)
	return out, err
}
