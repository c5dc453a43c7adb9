package telling

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"brinebell/collector/casebook"
	"brinebell/detect"
	"brinebell/detect/care"
)

// notice is a step in the outbox.
type notice struct {
	step         int64
	caseID, home string
	severity     detect.Severity // of the case then
}

// message is a step for one person on one channel.
type message struct {
	id                    string
	step                  int64
	again                 int
	person, channel, kind string
	caseID, home          string
	urgent                bool
	due                   time.Time
}

// fan makes of each step in the outbox one message for each person and channel
// that is to hear of it.
func (t *Teller) fan(ctx context.Context, now time.Time) error {
	var waiting []notice
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var n notice
		err := r.Scan(&n.step, &n.caseID, &n.home, &n.severity)
		waiting = append(waiting, n)
		return err
	}, `SELECT step, case_id, home, severity FROM outbox ORDER BY step LIMIT 500`)
	if err != nil {
		return err
	}
	var errs []error
	for _, n := range waiting {
		if err := t.fanOne(ctx, now, n); err != nil {
			errs = append(errs, fmt.Errorf("case %s: %w", n.caseID, err))
		}
	}
	return errors.Join(errs...)
}

func (t *Teller) fanOne(ctx context.Context, now time.Time, n notice) error {
	c, err := t.opts.Cases.Case(ctx, n.caseID)
	if err != nil && !errors.Is(err, casebook.ErrNoCase) {
		return err
	}
	var messages []message
	if i := slices.IndexFunc(c.Steps, func(s care.Step) bool { return s.Seq == n.step }); i >= 0 {
		if messages, err = t.messages(ctx, now, n, c, c.Steps[i]); err != nil {
			return err
		}
	}
	if len(messages) == 0 {
		t.metrics.nobody.Inc()
	}
	return t.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		if err := insert(ctx, tx, messages); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM outbox WHERE step = ?`, n.step)
		return err
	})
}

func insert(ctx context.Context, tx *sql.Tx, messages []message) error {
	for _, m := range messages {
		_, err := tx.ExecContext(ctx, `INSERT INTO messages (id, step, again, person, channel, kind, home, case_id, urgent, due)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			m.id, m.step, m.again, m.person, m.channel, m.kind, m.home, m.caseID, m.urgent, m.due.UnixNano())
		if err != nil {
			return err
		}
	}
	return nil
}

// messages are those that a step makes.
func (t *Teller) messages(ctx context.Context, now time.Time, n notice, c casebook.Case, s care.Step) (out []message, err error) {
	if t.opts.People == nil {
		return nil, nil
	}
	people, err := t.opts.People.AtHome(ctx, n.home)
	if err != nil {
		return nil, err
	}
	told, err := t.toldBefore(ctx, n.caseID)
	if err != nil {
		return nil, err
	}
	home, _ := t.opts.Home(n.home)
	if home.Location == nil {
		home.Location = time.UTC
	}
	urgent := n.severity == detect.ActNow && raises(s.Act)
	for _, p := range people {
		if p.Disabled || !concerns(p, c, s, told[p.ID]) {
			continue
		}
		for _, ch := range p.Channels {
			if !wants(ch, n.severity, s.Act) {
				continue
			}
			m := message{step: n.step, person: p.ID, channel: fingerprint(ch), kind: string(ch.Kind), caseID: n.caseID, home: n.home, urgent: urgent, due: now}
			if !urgent && ch.Kind != care.Webhook { // programs do not sleep
				m.due = due(now, home.Location, ch)
			}
			m.id = m.identity()
			out = append(out, m)
		}
	}
	return out, nil
}

// identity follows from what the message is, so that it is the same whenever it
// is made.
func (m message) identity() string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d|%d|%s|%s", m.step, m.again, m.person, m.channel))
	return hex.EncodeToString(sum[:16])
}

// fingerprint knows a channel again without saying where it leads.
func fingerprint(c care.Channel) string {
	sum := sha256.Sum256([]byte(string(c.Kind) + "|" + c.Target))
	return hex.EncodeToString(sum[:16])
}

// raises says whether a step brings trouble.
func raises(a care.Act) bool { return a == care.Raised || a == care.Updated || a == care.Reopened }

// concerns says whether a step is for a person. Nobody is told of what they did
// themselves. A question goes to whom it is put, an answer to those who may have
// asked, and that something is over to those who heard of it.
func concerns(p care.Person, c casebook.Case, s care.Step, told bool) bool {
	firm := p.Role == care.Technician || p.Role == care.Manager
	switch {
	case s.By == p.ID:
		return false
	case s.Act == care.AskHouse:
		return p.Role == care.Household
	case s.Act == care.AskFirm:
		return firm
	case s.Act == care.Answer:
		return p.ID == c.Holder || slices.ContainsFunc(c.Steps, func(q care.Step) bool {
			return q.By == p.ID && q.Seq < s.Seq && (q.Act == care.AskHouse || q.Act == care.AskFirm)
		})
	case raises(s.Act):
		return firm || p.Role == care.Household
	}
	return told
}

// wants says whether a channel is for something so pressing. Words between
// people come whatever it is.
func wants(c care.Channel, s detect.Severity, a care.Act) bool {
	words := a == care.AskHouse || a == care.AskFirm || a == care.Answer
	return words || c.Least == "" || s.Rank() <= c.Least.Rank()
}

// toldBefore are the people who have heard of a case.
func (t *Teller) toldBefore(ctx context.Context, caseID string) (map[string]bool, error) {
	out := map[string]bool{}
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var id string
		err := r.Scan(&id)
		out[id] = true
		return err
	}, `SELECT DISTINCT person FROM messages WHERE case_id = ?`, caseID)
	return out, err
}
