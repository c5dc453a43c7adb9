package collector

import (
	"maps"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// silentAfter is how long a home must not have been heard to count as silent.
// Sensors send every minute or so; a router that is restarted takes some of
// them.
const silentAfter = time.Hour

// overview are the metrics of the collector as a whole, looked up when they are
// asked for.
type overview struct {
	collector *Collector
	since     time.Time // from which on homes could be heard

	homes, silent, free, size *prometheus.Desc
}

func newOverview(c *Collector) *overview {
	describe := func(name, help string) *prometheus.Desc { return prometheus.NewDesc(name, help, nil, nil) }
	return &overview{collector: c, since: c.opts.Clock(),
		homes:  describe("brinebell_homes", "Homes that are collected for."),
		silent: describe("brinebell_homes_silent", "Homes of which no reading was stored for an hour."),
		free:   describe("brinebell_data_free_bytes", "Bytes that can still be written where the stores are."),
		size:   describe("brinebell_data_size_bytes", "Bytes of the file system that the stores are on, used and free."),
	}
}

var _ prometheus.Collector = (*overview)(nil)

// Describe gives the metrics.
func (o *overview) Describe(out chan<- *prometheus.Desc) { prometheus.DescribeByCollect(o, out) }

// Collect looks the values up.
func (o *overview) Collect(out chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, value float64) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value)
	}
	homes, silent := o.count()
	gauge(o.homes, float64(homes))
	gauge(o.silent, float64(silent))
	if free, size, ok := space(o.collector.opts.Dir); ok {
		gauge(o.free, float64(free))
		gauge(o.size, float64(size))
	}
}

// count is how many homes there are, and how many of them are silent.
func (o *overview) count() (homes, silent int) {
	now := o.collector.opts.Clock()
	for _, id := range o.collector.homes.ids() {
		homes++
		heard, ok := o.collector.intake.Heard(id)
		if !ok {
			heard = o.since
		}
		if now.Sub(heard) > silentAfter {
			silent++
		}
	}
	return homes, silent
}

// ids are those of all homes, in no order.
func (r *registry) ids() []string {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return slices.Collect(maps.Keys(r.byID))
}
