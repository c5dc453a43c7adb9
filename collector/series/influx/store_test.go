package influx_test

import (
	"testing"

	"go.uber.org/goleak"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/seriestest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func open(t *testing.T, opts influx.Options) *influx.Store {
	t.Helper()
	s, err := influx.Open(opts)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestConformance runs the suite of all stores against a real server, a new
// bucket for each check.
func TestConformance(t *testing.T) {
	server := influxtest.Start(t)
	seriestest.Run(t, func(t *testing.T) series.Store {
		return open(t, influx.Options{URL: server.URL, Bucket: server.NewBucket(t)})
	})
}
