package telling

import (
	"context"
	"database/sql"
	"time"

	"brinebell/detect/care"
)

// Telling is that somebody was, or is to be, told of a step of a case.
type Telling struct {
	Step    int64
	Person  string
	Kind    care.ChannelKind
	Again   int       // 0, or which repetition
	Due     time.Time // not before it
	At      time.Time // when it was over, well or not; zero while it waits
	Outcome string    // delivered, refused, expired or gone; empty while it waits
}

// Told is who was told of a case, and when, in order.
func (t *Teller) Told(ctx context.Context, caseID string) (out []Telling, err error) {
	err = t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var x Telling
		var due int64
		var at sql.NullInt64
		err := r.Scan(&x.Step, &x.Person, &x.Kind, &x.Again, &due, &at, &x.Outcome)
		if x.Due = time.Unix(0, due).UTC(); at.Valid {
			x.At = time.Unix(0, at.Int64).UTC()
		}
		out = append(out, x)
		return err
	}, `SELECT m.step, m.person, m.kind, m.again, m.due, d.finished, coalesce(d.outcome, '') FROM messages m LEFT JOIN deliveries d ON d.id = m.delivery
		WHERE m.case_id = ? ORDER BY m.step, m.again, m.person, m.channel`, caseID)
	return out, err
}
