package collector_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"brinebell/collector"
	"brinebell/collector/adapter"
	"brinebell/detect"
)

func connect(t testing.TB, url string) mqtt.Client {
	t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("sensor"))
	if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal("cannot connect", token.Error())
	}
	return c
}

func send(t testing.TB, c mqtt.Client, topic, payload string) {
	t.Helper()
	if token := c.Publish(topic, 1, false, payload); !token.WaitTimeout(20*time.Second) || token.Error() != nil {
		t.Fatalf("publish: %v", token.Error())
	}
}

// running opens a collector and runs it until the returned function is called.
func running(t testing.TB, opts collector.Options) (c *collector.Collector, stop func()) {
	t.Helper()
	c, err := collector.Open(context.Background(), opts)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	return c, func() {
		cancel()
		if err := errors.Join(<-ended, c.Close()); err != nil {
			t.Error(err)
		}
	}
}

// TestFromSensorToPage publishes over the embedded broker in both native forms
// and one of its own, and asks for all that a page asks for.
func TestFromSensorToPage(t *testing.T) {
	registry := prometheus.NewPedanticRegistry()
	var told atomic.Int64
	opts := streamOptions(t.TempDir(), "127.0.0.1:0", "")
	opts.Adapters = []adapter.Config{{Topic: "tanks/{home}/level", Signal: "brine_level", Unit: "in", Pointer: "/v"}}
	opts.Registerer = registry
	opts.Logger = slog.New(slog.NewTextHandler(io.Discard, nil))
	opts.Changed = func(alerts []detect.Alert) { told.Add(int64(len(alerts))) }
	opts.Profiles = map[string]string{"home-0": "id: home-0"}
	c, stop := running(t, opts)
	sensor := connect(t, "tcp://"+c.BrokerAddr())

	at := streamClock().Add(-time.Hour)
	send(t, sensor, "homes/home-0/sensors/meter", fmt.Sprintf(`[{"bn":"home-0/meter/","bt":%d,"n":"inlet_volume","u":"m3","v":1.5},{"n":"inlet_volume","u":"m3","v":1.6,"t":60},{"n":"inlet_volume","u":"barrel","v":1}]`, at.Unix()))
	// The same in CBOR (RFC 8949): [{-2: "home-0/d/", 0: "battery", 1: "%EL", 2: 87}], at the present for want of a time.
	send(t, sensor, "homes/home-0/sensors/d", "\x81\xa4\x21\x69home-0/d/\x00\x67battery\x01\x63%EL\x02\x18\x57")
	send(t, sensor, "tanks/home-0/level", `{"v":10}`)
	send(t, sensor, "homes/nobody/sensors/meter", fmt.Sprintf(`[{"n":"nobody/m/battery","u":"%%EL","v":1,"t":%d}]`, at.Unix()))
	sensor.Disconnect(100)

	ctx := context.Background()
	latest, err := c.Latest(ctx, "home-0")
	if err != nil || latest[detect.InletVolume].Value != 1600 || latest[detect.Battery].Value != 87 || latest[detect.BrineLevel].Value != 254 {
		t.Errorf("latest %v %v", latest, err)
	}
	points, err := c.Points(ctx, "home-0", detect.InletVolume, at, at.Add(time.Hour), 1)
	if err != nil || len(points) != 1 || points[0].Count != 2 || points[0].Min != 1500 || points[0].Max != 1600 || points[0].Mean != 1550 {
		t.Errorf("points %v %v", points, err)
	}
	var none collector.ErrNoHome
	if _, err := c.Points(ctx, "nobody", detect.InletVolume, at, at, 1); !errors.As(err, &none) {
		t.Errorf("points of nobody: %v", err)
	}
	if _, err := c.Latest(ctx, "nobody"); !errors.As(err, &none) {
		t.Errorf("latest of nobody: %v", err)
	}
	if q := c.Quarantine(); len(q) != 2 || !strings.Contains(q[0].Detail+q[1].Detail, "barrel") {
		t.Errorf("quarantine %+v", q)
	}
	if h := c.Health(); !h.Ready || !h.Connected {
		t.Errorf("health %+v", h)
	}
	if got := c.Homes(); len(got) != streamHomes || got[0].ID != "home-0" {
		t.Errorf("homes %v", got)
	}
	if records, err := c.Regenerations(ctx, "home-0", time.Time{}, streamClock()); err != nil || len(records) != 0 {
		t.Errorf("regenerations %v %v", records, err)
	}
	if b, ok := c.Books("home-0"); !ok || b.Bed.Left.Known() {
		t.Errorf("books %+v %v, want some with the capacity left unknown", b, ok)
	}
	if problems, err := testutil.GatherAndLint(registry); err != nil || len(problems) > 0 {
		t.Errorf("metrics: %v %v", problems, err)
	}
	names, err := registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	for _, family := range names {
		if !strings.HasPrefix(family.GetName(), "brinebell_") {
			t.Errorf("metric %s", family.GetName())
		}
	}
	stop()
}

// TestStoppedWithoutRun closes what was opened.
func TestStoppedWithoutRun(t *testing.T) {
	c, err := collector.Open(context.Background(), streamOptions(t.TempDir(), "127.0.0.1:0", ""))
	if err != nil {
		t.Fatal(err)
	}
	if h := c.Health(); h.Ready {
		t.Error("ready before it runs")
	}
	if err := errors.Join(c.Close(), c.Close()); err != nil {
		t.Error(err)
	}
}

// TestNoBrokerYet starts before the broker elsewhere does, and stops.
func TestNoBrokerYet(t *testing.T) {
	c, stop := running(t, streamOptions(t.TempDir(), "", "tcp://127.0.0.1:1"))
	if h := c.Health(); h.Connected {
		t.Error("connected to nothing")
	}
	stop()
}

func TestOptionsAreChecked(t *testing.T) {
	good := streamOptions(t.TempDir(), "127.0.0.1:0", "")
	for name, change := range map[string]func(*collector.Options){
		"no directory": func(o *collector.Options) { o.Dir = "" },
		"no broker":    func(o *collector.Options) { o.Broker = collector.BrokerOptions{} },
		"two brokers":  func(o *collector.Options) { o.Broker.URL = "tcp://127.0.0.1:1" },
		"a home twice": func(o *collector.Options) { o.Homes = append(homes(1), homes(1)...) },
		"a bad adapter": func(o *collector.Options) {
			o.Adapters = []adapter.Config{{Topic: "x", Home: "home-0", Signal: "pump"}}
		},
		"a stray adapter": func(o *collector.Options) { o.Adapters = []adapter.Config{{Topic: "x", Home: "y", Signal: "battery"}} },
		"a bad address":   func(o *collector.Options) { o.Broker.Listen = "nowhere:x" },
		"a metric twice": func(o *collector.Options) {
			o.Registerer = prometheus.NewRegistry()
			o.Registerer.MustRegister(prometheus.NewCounter(prometheus.CounterOpts{Name: "brinebell_reruns_total", Help: "x"}))
		},
	} {
		opts := good
		opts.Dir = t.TempDir()
		change(&opts)
		if c, err := collector.Open(context.Background(), opts); err == nil {
			t.Errorf("%s: opened", name)
			_ = c.Close()
		}
	}
}
