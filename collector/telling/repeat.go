package telling

import (
	"context"
	"database/sql"
	"time"

	"brinebell/detect/care"
)

// pause is how long after the message of that number the next one comes.
func pause(again int) time.Duration {
	p := FirstRepeat
	for range again {
		if p *= 2; p >= LastRepeat {
			return LastRepeat
		}
	}
	return p
}

// repeat tells again what is to be acted on now and nobody has taken, person by
// person, once the last telling has gone out. Programs are told once.
func (t *Teller) repeat(ctx context.Context, now time.Time) error {
	var again []message
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var m message
		var finished int64
		if err := r.Scan(&m.step, &m.again, &m.person, &m.channel, &m.kind, &m.home, &m.caseID, &finished); err != nil {
			return err
		}
		if !now.Before(time.Unix(0, finished).Add(pause(m.again))) {
			m.again++
			m.urgent, m.due = true, now
			m.id = m.identity()
			again = append(again, m)
		}
		return nil
	}, `SELECT m.step, m.again, m.person, m.channel, m.kind, m.home, m.case_id, d.finished
		FROM cases c JOIN messages m ON m.case_id = c.id JOIN deliveries d ON d.id = m.delivery
		WHERE c.stage = 'open' AND c.severity = 'act_now' AND m.urgent AND m.kind <> ? AND d.outcome = ?
		AND NOT EXISTS (SELECT 1 FROM messages l WHERE l.case_id = m.case_id AND l.person = m.person AND l.channel = m.channel AND l.urgent AND (l.step, l.again) > (m.step, m.again))
		AND EXISTS (SELECT 1 FROM case_alerts a WHERE a.case_id = c.id AND a.standing)`,
		string(care.Webhook), delivered)
	if err != nil || len(again) == 0 {
		return err
	}
	return t.opts.State.Transact(ctx, func(tx *sql.Tx) error { return insert(ctx, tx, again) })
}
