package collector

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"brinebell/collector/intake"
	"brinebell/detect"
)

// TestSilentHomesAreCounted lets one of two homes be heard an hour and a half
// after the start.
func TestSilentHomesAreCounted(t *testing.T) {
	start := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	var passed atomic.Int64
	registry := prometheus.NewRegistry()
	c, err := Open(context.Background(), Options{Dir: t.TempDir(), Broker: BrokerOptions{Listen: "127.0.0.1:0"}, Registerer: registry,
		Homes: []detect.Home{detect.DefaultHome("a", time.UTC), detect.DefaultHome("b", time.UTC)},
		Clock: func() time.Time { return start.Add(time.Duration(passed.Load())) }})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	silent := func(want string) {
		t.Helper()
		text := "# HELP brinebell_homes_silent Homes of which no reading was stored for an hour.\n# TYPE brinebell_homes_silent gauge\nbrinebell_homes_silent " + want + "\n"
		if err := testutil.GatherAndCompare(registry, strings.NewReader(text), "brinebell_homes_silent"); err != nil {
			t.Error(err)
		}
	}
	silent("0")
	passed.Store(int64(90 * time.Minute))
	silent("2")
	done := make(chan error, 1)
	if err := c.intake.Offer(ctx, intake.Message{Topic: "homes/a/sensors/d", Done: func(err error) { done <- err },
		Payload: []byte(`[{"bn":"a/d/","n":"battery","u":"%EL","v":50}]`)}); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	silent("1")
	if n, err := testutil.GatherAndCount(registry, "brinebell_data_free_bytes", "brinebell_data_size_bytes", "brinebell_homes"); err != nil || n < 1 {
		t.Error(n, err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}
