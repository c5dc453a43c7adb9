package telling

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"brinebell/detect/care"
)

// How a delivery ended.
const (
	delivered = "delivered"
	refused   = "refused" // for good
	expired   = "expired" // tried for GiveUp
	gone      = "gone"    // the person or the channel is no more
)

// delivery is what goes out as one.
type delivery struct {
	id string
	receiver
	created  time.Time
	attempts int
}

// deliver tries what is due, the pressing first.
func (t *Teller) deliver(ctx context.Context, now time.Time) error {
	var all []delivery
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var d delivery
		var created int64
		err := r.Scan(&d.id, &d.person, &d.channel, &d.kind, &d.urgent, &created, &d.attempts)
		d.created = time.Unix(0, created).UTC()
		all = append(all, d)
		return err
	}, `SELECT id, person, channel, kind, urgent, created, attempts FROM deliveries
		WHERE next <= ? AND kind NOT IN (SELECT value FROM json_each(?)) ORDER BY urgent DESC, created LIMIT 500`, now.UnixNano(), t.downKinds(now))
	if err != nil {
		return err
	}
	errs := make([]error, len(all))
	var group errgroup.Group
	group.SetLimit(atOnce)
	for i, d := range all {
		group.Go(func() error {
			errs[i] = t.try(ctx, now, d)
			return nil
		})
	}
	return errors.Join(group.Wait(), errors.Join(errs...))
}

// try makes one attempt and notes how it went. The error is that of noting.
func (t *Teller) try(ctx context.Context, now time.Time, d delivery) error {
	kind := care.ChannelKind(d.kind)
	if ctx.Err() != nil || t.isDown(kind, now) {
		return nil // it stays due
	}
	err := t.attempt(ctx, d)
	if ctx.Err() != nil && err != nil {
		return nil // we are stopping; it is tried again
	}
	t.noteServer(kind, now, err)
	switch {
	case err == nil:
		return t.finish(ctx, now, d, delivered)
	case errors.Is(err, care.ErrNone):
		return t.finish(ctx, now, d, gone)
	case errors.Is(err, errRefused):
		t.opts.Logger.Error("a message was refused", "delivery", d.id, "person", d.person, "channel", d.kind, "error", err)
		return t.finish(ctx, now, d, refused)
	case now.Sub(d.created) >= GiveUp:
		t.opts.Logger.Error("a message could not be delivered and is given up", "delivery", d.id, "person", d.person, "channel", d.kind, "error", err)
		return t.finish(ctx, now, d, expired)
	}
	t.metrics.deliveries.WithLabelValues(d.kind, "failed").Inc()
	t.opts.Logger.Warn("a message could not be delivered; it is tried again", "delivery", d.id, "person", d.person, "channel", d.kind, "attempt", d.attempts+1, "error", err)
	if errors.Is(err, errDown) {
		return nil // the server's own pause goes for all that waits for it
	}
	most := LastRetry
	if d.urgent {
		most = LastUrgentRetry
	}
	return t.exec(ctx, `UPDATE deliveries SET attempts = attempts + 1, next = ? WHERE id = ?`, now.Add(t.backoff(d.attempts, most)).UnixNano(), d.id)
}

// attempt sends a delivery once.
func (t *Teller) attempt(ctx context.Context, d delivery) error {
	p, c, err := t.channel(ctx, d.receiver)
	if err != nil {
		return err
	}
	l, err := t.letter(ctx, d, p, c)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, tryTime)
	defer cancel()
	return t.senders[c.Kind].send(ctx, c, l)
}

// channel finds the person and the channel again; care.ErrNone when either is no
// more.
func (t *Teller) channel(ctx context.Context, to receiver) (care.Person, care.Channel, error) {
	if t.opts.People == nil {
		return care.Person{}, care.Channel{}, care.ErrNone
	}
	p, err := t.opts.People.Person(ctx, to.person)
	if err != nil {
		return p, care.Channel{}, err
	}
	i := slices.IndexFunc(p.Channels, func(c care.Channel) bool { return fingerprint(c) == to.channel })
	if p.Disabled || i < 0 || t.senders[p.Channels[i].Kind] == nil {
		return p, care.Channel{}, care.ErrNone
	}
	return p, p.Channels[i], nil
}

// finish notes how a delivery ended.
func (t *Teller) finish(ctx context.Context, now time.Time, d delivery, outcome string) error {
	t.metrics.deliveries.WithLabelValues(d.kind, outcome).Inc()
	// What was delivered must be noted even when we are being stopped.
	return t.exec(context.WithoutCancel(ctx), `UPDATE deliveries SET attempts = attempts + 1, next = NULL, outcome = ?, finished = ? WHERE id = ?`, outcome, now.UnixNano(), d.id)
}

func (t *Teller) exec(ctx context.Context, query string, args ...any) error {
	return t.opts.State.Transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, query, args...)
		return err
	})
}

// backoff is the pause after so many failures before: twice as long each time,
// up to the most, varied a little.
func (t *Teller) backoff(failures int, most time.Duration) time.Duration {
	p := min(float64(most), float64(FirstRetry)*math.Pow(2, float64(failures)))
	return time.Duration(p * (1 + Jitter*(2*t.opts.Random()-1)))
}

// downKinds are the kinds whose server is in its pause, as JSON: what waits for
// them must not crowd out the rest.
func (t *Teller) downKinds(now time.Time) string {
	kinds := []string{}
	for k := range t.senders {
		if t.isDown(k, now) {
			kinds = append(kinds, string(k))
		}
	}
	b, _ := json.Marshal(kinds) // strings always can be
	return string(b)
}

// isDown says whether the server of a kind is in its pause after failures.
func (t *Teller) isDown(k care.ChannelKind, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return now.Before(t.down[k].until)
}

// noteServer begins or ends the pause of a server.
func (t *Teller) noteServer(k care.ChannelKind, now time.Time, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if !errors.Is(err, errDown) {
		delete(t.down, k)
		return
	}
	if o := t.down[k]; !now.Before(o.until) { // not one of several at the same time
		t.down[k] = outage{o.failures + 1, now.Add(t.backoff(o.failures, LastUrgentRetry))}
	}
}

// Try sends a message that says nothing but that the channel works, to a
// person's own channel.
func (t *Teller) Try(ctx context.Context, p care.Person, channel int) error {
	if channel < 0 || channel >= len(p.Channels) {
		return fmt.Errorf("%w: there is no such channel", care.ErrBad)
	}
	c := p.Channels[channel]
	s := t.senders[c.Kind]
	if s == nil {
		return fmt.Errorf("%w: a channel of the kind %q", care.ErrBad, c.Kind)
	}
	ctx, cancel := context.WithTimeout(ctx, tryTime)
	defer cancel()
	return s.send(ctx, c, t.trial(p))
}
