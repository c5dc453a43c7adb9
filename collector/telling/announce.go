package telling

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"
)

// wholeEvery is how often all alerts that stand are published anew, in case the
// broker has forgotten them. A retained message that is there already changes
// nothing.
const wholeEvery = time.Hour

// Topic is where an alert is published, retained, while it stands.
func Topic(home, alert string) string { return "homes/" + home + "/alerts/" + alert }

// announcement is a retained message as it should be or was last published.
type announcement struct {
	home, hash string
	payload    []byte
}

// announce publishes the alerts that stand and clears those that do not, by an
// empty retained message (MQTT 3.1.1, section 3.3.1.3). What fails is tried at
// the next look.
func (t *Teller) announce(ctx context.Context, now time.Time) error {
	whole := t.announced.IsZero() || now.Sub(t.announced) >= wholeEvery
	if t.opts.Publisher == nil || !t.news.Load() && !whole {
		return nil
	}
	t.news.Store(false)
	wanted, err := t.wanted(ctx)
	if err != nil {
		t.news.Store(true)
		return err
	}
	there, err := t.there(ctx)
	for topic := range there {
		if _, ok := wanted[topic]; !ok && err == nil {
			err = t.publish(ctx, topic, announcement{})
		}
	}
	for _, topic := range slices.Sorted(maps.Keys(wanted)) {
		if a := wanted[topic]; err == nil && (whole || there[topic] != a.hash) {
			err = t.publish(ctx, topic, a)
		}
	}
	if err != nil {
		t.news.Store(true)
		t.metrics.announced.WithLabelValues("error").Inc()
		t.opts.Logger.Debug("alerts could not be published at the broker; it is tried again", "error", err)
		return nil
	}
	if whole {
		t.announced = now
	}
	return nil
}

// wanted are the alerts that stand, by topic.
func (t *Teller) wanted(ctx context.Context) (map[string]announcement, error) {
	all, err := t.opts.State.Standing(ctx)
	if err != nil {
		return nil, err
	}
	cases, err := t.casesOf(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]announcement{}
	for _, a := range all {
		payload, err := json.Marshal(a.Alert)
		if err != nil {
			return nil, err
		}
		if c, ok := cases[a.ID]; ok { // added to the published form
			payload = fmt.Appendf(payload[:len(payload)-1], `,"case":%q,"stage":%q}`, c[0], c[1])
		}
		sum := sha256.Sum256(payload)
		out[Topic(a.Home, a.ID)] = announcement{a.Home, hex.EncodeToString(sum[:16]), payload}
	}
	return out, nil
}

// casesOf are the cases of the alerts that stand and their stages, by alert.
func (t *Teller) casesOf(ctx context.Context) (map[string][2]string, error) {
	out := map[string][2]string{}
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var alert, id, stage string
		err := r.Scan(&alert, &id, &stage)
		out[alert] = [2]string{id, stage}
		return err
	}, `SELECT a.alert, c.id, c.stage FROM case_alerts a JOIN cases c ON c.id = a.case_id WHERE a.standing`)
	return out, err
}

// there are the hashes of what was published, by topic.
func (t *Teller) there(ctx context.Context) (map[string]string, error) {
	out := map[string]string{}
	err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
		var topic, hash string
		err := r.Scan(&topic, &hash)
		out[topic] = hash
		return err
	}, `SELECT topic, hash FROM announced`)
	return out, err
}

// publish publishes one alert, or clears it when there is no payload, and notes
// that.
func (t *Teller) publish(ctx context.Context, topic string, a announcement) error {
	if err := t.opts.Publisher.Publish(ctx, topic, a.payload, true); err != nil {
		return err
	}
	t.metrics.announced.WithLabelValues("ok").Inc()
	if a.payload == nil {
		return t.exec(ctx, `DELETE FROM announced WHERE topic = ?`, topic)
	}
	return t.exec(ctx, `INSERT INTO announced (topic, home, hash) VALUES (?, ?, ?) ON CONFLICT (topic) DO UPDATE SET hash = excluded.hash`, topic, a.home, a.hash)
}
