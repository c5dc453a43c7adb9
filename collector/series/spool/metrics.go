package spool

import (
	"errors"
	"sync/atomic"

	"github.com/prometheus/client_golang/prometheus"
)

// metrics of a spool. Every outcome begins at zero, so that an alert on its rate
// sees the first.
type metrics struct {
	taken    *prometheus.CounterVec
	failures *prometheus.CounterVec
	storeUp  atomic.Bool
}

func newMetrics(reg prometheus.Registerer, s *Spool) (*metrics, error) {
	m := &metrics{
		taken: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_spool_readings_total",
			Help: "Readings that left the spool, by outcome: stored, or refused by the store and set aside."}, []string{"outcome"}),
		failures: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_spool_failures_total",
			Help: "What went wrong: store (a write to the store failed and is tried again), full (the spool took no more) or disk (it could not be written)."}, []string{"reason"}),
	}
	m.storeUp.Store(true)
	gauge := func(name, help string, value func() float64) prometheus.Collector {
		return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, value)
	}
	for _, outcome := range []string{"stored", "refused"} {
		m.taken.WithLabelValues(outcome)
	}
	for _, reason := range []string{"store", "full", "disk"} {
		m.failures.WithLabelValues(reason)
	}
	if reg == nil {
		return m, nil
	}
	for _, c := range []prometheus.Collector{m.taken, m.failures,
		gauge("brinebell_spool_waiting_readings", "Readings that wait in the spool for the store.", func() float64 { return float64(s.State().Readings) }),
		gauge("brinebell_spool_waiting_bytes", "Bytes that wait in the spool for the store.", func() float64 { return float64(s.State().Bytes) }),
		gauge("brinebell_spool_limit_bytes", "Bytes that may wait in the spool.", func() float64 { return float64(s.State().Limit) }),
		gauge("brinebell_spool_oldest_age_seconds", "How long the first reading in the spool has waited.", s.age),
		gauge("brinebell_spool_store_up", "Whether the last write to the store succeeded.", m.upValue),
		gauge("brinebell_spool_damaged_bytes", "Damaged bytes found in the spool when it was opened.", func() float64 { return float64(s.found.damaged) }),
	} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// age is how long the first reading that waits has done so, in seconds.
func (s *Spool) age() float64 {
	oldest := s.State().Oldest
	if oldest.IsZero() {
		return 0
	}
	return max(0, s.opts.Clock().Sub(oldest).Seconds())
}

func (m *metrics) upValue() float64 {
	if m.storeUp.Load() {
		return 1
	}
	return 0
}

func (m *metrics) up(up bool) {
	m.storeUp.Store(up)
	if !up {
		m.failures.WithLabelValues("store").Inc()
	}
}

func (m *metrics) handled(stored, refused int) {
	m.taken.WithLabelValues("stored").Add(float64(stored))
	m.taken.WithLabelValues("refused").Add(float64(refused))
}

func (m *metrics) notTaken(err error) {
	reason := "disk"
	if errors.Is(err, ErrFull) {
		reason = "full"
	}
	m.failures.WithLabelValues(reason).Inc()
}
