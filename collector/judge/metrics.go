package judge

import (
	"github.com/prometheus/client_golang/prometheus"

	"brinebell/detect/engine"
)

// metrics of the judge.
type metrics struct {
	judged *prometheus.CounterVec
	reruns prometheus.Counter
	saves  *prometheus.CounterVec
	alerts *prometheus.CounterVec
}

func newMetrics(reg prometheus.Registerer, behind func() float64) (*metrics, error) {
	m := &metrics{
		judged: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_judged_readings_total",
			Help: "Readings handed to the engine, by what became of them."}, []string{"outcome"}),
		reruns: prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_reruns_total",
			Help: "Homes judged again because of late readings."}),
		saves: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_state_saves_total",
			Help: "Attempts to save alerts and snapshots, by result."}, []string{"result"}),
		alerts: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_alert_changes_total",
			Help: "Changes of alerts that were saved, by kind."}, []string{"kind"}),
	}
	homesBehind := prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_homes_behind",
		Help: "Homes that have yet to be judged up to what is stored, after a start."}, behind)
	for o := engine.Accepted; o <= engine.Implausible; o++ {
		m.judged.WithLabelValues(o.String())
	}
	for _, result := range []string{"ok", "error"} {
		m.saves.WithLabelValues(result)
	}
	if reg == nil {
		return m, nil
	}
	for _, c := range []prometheus.Collector{m.judged, m.reruns, m.saves, m.alerts, homesBehind} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}
