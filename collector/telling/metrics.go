package telling

import (
	"context"
	"database/sql"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/detect/care"
)

// metrics of telling.
type metrics struct {
	deliveries *prometheus.CounterVec
	waiting    prometheus.Gauge
	oldest     prometheus.Gauge
	nobody     prometheus.Counter
	failures   prometheus.Counter
	announced  *prometheus.CounterVec
}

func newMetrics(reg prometheus.Registerer) (*metrics, error) {
	m := &metrics{
		deliveries: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_outbox_deliveries_total",
			Help: "Attempts to deliver messages to people, by channel and outcome; those that failed are made again."}, []string{"channel", "outcome"}),
		waiting: prometheus.NewGauge(prometheus.GaugeOpts{Name: "brinebell_outbox_waiting_messages",
			Help: "Messages to people that are due and not yet delivered."}),
		oldest: prometheus.NewGauge(prometheus.GaugeOpts{Name: "brinebell_outbox_oldest_age_seconds",
			Help: "How long the oldest message that is due has waited; 0 when none has."}),
		nobody: prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_outbox_unheard_steps_total",
			Help: "Steps of cases that should be told and that nobody has a channel for."}),
		failures: prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_outbox_failures_total",
			Help: "Looks at the outbox that failed and are made again."}),
		announced: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_alerts_announced_total",
			Help: "Retained messages of alerts that were published at the broker or cleared there, by outcome."}, []string{"outcome"}),
	}
	for _, kind := range []care.ChannelKind{care.Mail, care.Gateway, care.Webhook} {
		for _, outcome := range []string{delivered, "failed", refused, expired, gone} {
			m.deliveries.WithLabelValues(string(kind), outcome)
		}
	}
	for _, outcome := range []string{"ok", "error"} {
		m.announced.WithLabelValues(outcome)
	}
	if reg == nil {
		return m, nil
	}
	for _, c := range []prometheus.Collector{m.deliveries, m.waiting, m.oldest, m.nobody, m.failures, m.announced} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// measure sets the gauges to what waits in the outbox: messages that are not yet
// in a delivery, and those of deliveries that are not over.
func (t *Teller) measure(ctx context.Context, now time.Time) error {
	waiting, oldest := 0, now
	for _, query := range []string{
		`SELECT count(*), min(due) FROM messages WHERE delivery IS NULL AND due <= ?`,
		`SELECT count(*), min(m.due) FROM deliveries d JOIN messages m ON m.delivery = d.id WHERE d.next IS NOT NULL AND m.due <= ?`,
	} {
		err := t.opts.State.Each(ctx, func(r *sql.Rows) error {
			var n int
			var due sql.NullInt64
			err := r.Scan(&n, &due)
			waiting += n
			if at := time.Unix(0, due.Int64); due.Valid && at.Before(oldest) {
				oldest = at
			}
			return err
		}, query, now.UnixNano())
		if err != nil {
			return err
		}
	}
	t.metrics.waiting.Set(float64(waiting))
	t.metrics.oldest.Set(now.Sub(oldest).Seconds())
	return nil
}
