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

// TestRealServer is all that needs one, as it takes seconds to start. The suite of
// all stores has a new bucket for each check.
func TestRealServer(t *testing.T) {
	server := influxtest.Start(t)
	t.Run("conformance", func(t *testing.T) {
		seriestest.Run(t, func(t *testing.T) series.Store {
			return open(t, influx.Options{URL: server.URL, Bucket: server.NewBucket(t)})
		})
	})
	t.Run("refusal", func(t *testing.T) { realRefusal(t, server) })
	t.Run("setup", func(t *testing.T) { setupOfARealServer(t, server) })
	t.Run("downsampling", func(t *testing.T) { downsampledByTheServer(t, server) })
}
