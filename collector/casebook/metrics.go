package casebook

import "github.com/prometheus/client_golang/prometheus"

// metrics of the casebook.
type metrics struct {
	steps    *prometheus.CounterVec
	failures prometheus.Counter
}

func newMetrics(reg prometheus.Registerer) (*metrics, error) {
	m := &metrics{
		steps: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_case_steps_total",
			Help: "Steps of cases that were written, by act."}, []string{"act"}),
		failures: prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_case_failures_total",
			Help: "Attempts to bring cases up to date that failed and are made again."}),
	}
	if reg == nil {
		return m, nil
	}
	for _, c := range []prometheus.Collector{m.steps, m.failures} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}
