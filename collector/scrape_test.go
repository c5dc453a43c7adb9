package collector_test

import (
	"net/http"
	"testing"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
)

// families are metrics as a server of Prometheus would read them.
type families map[string]*dto.MetricFamily

func scrape(t testing.TB, url string) families {
	t.Helper()
	response, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	parser := expfmt.NewTextParser(model.UTF8Validation)
	f, err := parser.TextToMetricFamilies(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sum adds up the values of a counter or gauge, of one label's value where a
// label is given.
func (f families) sum(name, label, value string) (sum float64) {
	for _, m := range f[name].GetMetric() {
		matches := label == ""
		for _, pair := range m.GetLabel() {
			matches = matches || pair.GetName() == label && pair.GetValue() == value
		}
		if matches {
			sum += m.GetCounter().GetValue() + m.GetGauge().GetValue()
		}
	}
	return sum
}

type buckets []*dto.Bucket

func (f families) histogram(name string) buckets {
	for _, m := range f[name].GetMetric() {
		return m.GetHistogram().GetBucket()
	}
	return nil
}

// quantile is the upper bound of the bucket in which a quantile lies: the
// quantile is no more than that.
func (b buckets) quantile(q float64) float64 {
	if len(b) == 0 {
		return 0
	}
	total := b[len(b)-1].GetCumulativeCount()
	for _, bucket := range b {
		if float64(bucket.GetCumulativeCount()) >= q*float64(total) {
			return bucket.GetUpperBound()
		}
	}
	return b[len(b)-1].GetUpperBound()
}
