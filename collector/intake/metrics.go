package intake

import "github.com/prometheus/client_golang/prometheus"

// metrics of the intake. Every reason there is begins at zero, so that an alert
// on its rate sees the first.
type metrics struct {
	messages *prometheus.CounterVec
	readings *prometheus.CounterVec
	batch    prometheus.Histogram
	append   prometheus.Histogram
	detect   prometheus.Histogram
	lag      prometheus.Histogram
	failures prometheus.Counter
	clock    prometheus.Counter
}

func newMetrics(reg prometheus.Registerer, depth func() float64) (*metrics, error) {
	m := &metrics{
		messages: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_messages_total",
			Help: "Messages taken in, by outcome: committed, partly (some records were not used) or quarantined."}, []string{"outcome"}),
		readings: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "brinebell_readings_total",
			Help: "Readings and unusable records, by outcome: stored, or the reason why not."}, []string{"outcome"}),
		batch: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "brinebell_batch_messages",
			Help: "Messages committed at once.", Buckets: prometheus.ExponentialBuckets(1, 4, 8)}),
		append: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "brinebell_append_duration_seconds",
			Help: "Time to commit a batch to the series store.", Buckets: prometheus.ExponentialBuckets(1e-4, 3, 10)}),
		detect: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "brinebell_detect_duration_seconds",
			Help: "Time to judge a batch.", Buckets: prometheus.ExponentialBuckets(1e-5, 4, 10)}),
		lag: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "brinebell_reading_lag_seconds",
			Help: "Time from measurement until the reading was stored.", Buckets: []float64{.05, .1, .25, .5, 1, 2.5, 5, 15, 60, 300, 900, 3600, 6 * 3600, 86400, 7 * 86400}}),
		failures: prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_append_failures_total",
			Help: "Batches that the series store did not take and that were tried again."}),
	}
	m.clock = prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_clock_refusals_total",
		Help: "Batches given back because the machine's clock was before what had been stored."})
	queue := prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_queue_messages",
		Help: "Messages that wait to be committed."}, depth)
	for _, outcome := range []string{"committed", "partly", "quarantined"} {
		m.messages.WithLabelValues(outcome)
	}
	for _, r := range []Reason{"stored", UnknownTopic, BadPayload, WrongHome, UnknownHome, Future, TooOld, Refused, Conflict, NotAllowed, Implausible} {
		m.readings.WithLabelValues(string(r))
	}
	if reg == nil {
		return m, nil
	}
	for _, c := range []prometheus.Collector{m.messages, m.readings, m.batch, m.append, m.detect, m.lag, m.failures, m.clock, queue} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}
