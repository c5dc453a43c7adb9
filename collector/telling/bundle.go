package telling

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"time"

	"brinebell/detect/care"
)

// receiver is one person on one channel.
type receiver struct {
	person, channel, kind string
	urgent                bool
}

// bundle puts what is due for one person on one channel into deliveries, as far
// as the limits allow. What they do not allow waits and goes with the next.
func (t *Teller) bundle(ctx context.Context, now time.Time) error {
	var order []receiver
	due := map[receiver][]string{}
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var id string
		var to receiver
		if err := r.Scan(&id, &to.person, &to.channel, &to.kind, &to.urgent); err != nil {
			return err
		}
		if due[to] == nil {
			order = append(order, to)
		}
		due[to] = append(due[to], id)
		return nil
	}, `SELECT id, person, channel, kind, urgent FROM messages WHERE delivery IS NULL AND due <= ? ORDER BY urgent DESC, step, again`, now.UnixNano())
	if err != nil {
		return err
	}
	for _, to := range order {
		if err := t.bundleFor(ctx, now, to, due[to]); err != nil {
			return err
		}
	}
	return nil
}

func (t *Teller) bundleFor(ctx context.Context, now time.Time, to receiver, ids []string) error {
	groups := [][]string{ids}
	if to.kind == string(care.Webhook) {
		groups = nil
		for _, id := range ids { // an event each
			groups = append(groups, []string{id})
		}
	} else if ok, err := t.mayNow(ctx, now, to); !ok || err != nil {
		return err
	}
	return t.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		for _, group := range groups {
			if err := send(ctx, tx, now, to, group); err != nil {
				return err
			}
		}
		return nil
	})
}

// send makes a delivery of some messages.
func send(ctx context.Context, tx *sql.Tx, now time.Time, to receiver, ids []string) error {
	id := together(ids)
	_, err := tx.ExecContext(ctx, `INSERT INTO deliveries (id, person, channel, kind, urgent, created, next, attempts, outcome) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?6, 0, '')`,
		id, to.person, to.channel, to.kind, to.urgent, now.UnixNano())
	for _, m := range ids {
		if err == nil {
			_, err = tx.ExecContext(ctx, `UPDATE messages SET delivery = ? WHERE id = ?`, id, m)
		}
	}
	return err
}

// together is the id of a delivery: that of its message, or of all.
func together(ids []string) string {
	if len(ids) == 1 {
		return ids[0]
	}
	sum := sha256.New()
	for _, id := range ids {
		sum.Write([]byte(id))
	}
	return hex.EncodeToString(sum.Sum(nil)[:16])
}

// mayNow says whether the limits allow another delivery. An ordinary one that
// still waits for its server counts as well, for it will come; what is to be
// acted on now does not wait behind one that cannot be delivered.
func (t *Teller) mayNow(ctx context.Context, now time.Time, to receiver) (ok bool, err error) {
	span, most := time.Hour, PerHour
	if to.urgent {
		span, most = UrgentGap, 1
	}
	n := 0
	err = t.opts.State.Each(ctx, func(r *sql.Rows) error { return r.Scan(&n) },
		`SELECT count(*) FROM deliveries WHERE person = ? AND channel = ? AND urgent = ? AND (created > ? OR next IS NOT NULL AND NOT urgent)`,
		to.person, to.channel, to.urgent, now.Add(-span).UnixNano())
	return n < most, err
}
