package collector_test

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector"
	"brinebell/collector/influxtest"
	"brinebell/collector/senml"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/spool"
)

// TestInfluxOutage runs the whole way to a real InfluxDB that is killed in the
// middle, not there at a restart of the collector, and back at the end: every
// acknowledged reading must be with it once, and the alert be the one that a
// collector with the embedded store raises.
func TestInfluxOutage(t *testing.T) {
	server := influxtest.Start(t)
	bucket := server.NewBucket(t)
	want := alertsOf(t, func(c *collector.Options) {}, func(int) {}, func() bool { return true })
	var waiting *spool.Spool
	dir := t.TempDir()
	withInflux := func(o *collector.Options) {
		o.Dir = dir
		o.OpenStore = func(prometheus.Registerer) (series.Store, error) {
			s, err := influx.Open(influx.Options{URL: server.URL, Bucket: bucket, Timeout: 2 * time.Second})
			if err != nil {
				return nil, err
			}
			waiting, err = spool.Open(spool.Options{Dir: filepath.Join(dir, "spool"), Store: s})
			return waiting, err
		}
	}
	got := alertsOf(t, withInflux, func(minute int) {
		switch minute {
		case streamMinutes / 4:
			server.Kill()
		case streamMinutes * 3 / 4:
			server.Run(t)
		}
	}, func() bool { return waiting.State().Readings == 0 })
	if len(want) == 0 || !slices.Equal(got, want) {
		t.Errorf("alerts %v, want %v", got, want)
	}
	reader, err := influx.Open(influx.Options{URL: server.URL, Bucket: bucket})
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	for _, h := range homes(streamHomes) {
		readings, err := series.ReadHome(context.Background(), reader, h.ID, time.Time{}, streamStart.AddDate(1, 0, 0))
		if err != nil || len(readings) != 2*streamMinutes {
			t.Errorf("%s: %d readings are with the server, want %d: %v", h.ID, len(readings), 2*streamMinutes, err)
		}
	}
}

// alertsOf sends the stream of the kill tests through a collector, which is
// started anew half-way, and gives the alerts' ids. at is called before each
// minute.
func alertsOf(t *testing.T, change func(*collector.Options), at func(minute int), settled func() bool) (ids []string) {
	t.Helper()
	o := streamOptions(t.TempDir(), "127.0.0.1:0", "")
	change(&o)
	for _, half := range [][2]int{{0, streamMinutes / 2}, {streamMinutes / 2, streamMinutes}} {
		c, err := collector.Open(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() { ended <- c.Run(ctx) }()
		publish(t, c.BrokerAddr(), half[0], half[1], at)
		if half[1] == streamMinutes {
			awaitAlerts(t, c, settled)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Fatal(err)
		}
		if half[1] == streamMinutes {
			alerts, err := c.Alerts(context.Background(), "")
			if err != nil {
				t.Fatal(err)
			}
			for _, a := range alerts {
				ids = append(ids, a.ID)
			}
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(ids)
	return ids
}

// publish sends minutes of the stream and returns when all are acknowledged.
func publish(t *testing.T, broker string, from, to int, at func(minute int)) {
	t.Helper()
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + broker).SetClientID("sensors").SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond))
	if token := client.Connect(); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	defer client.Disconnect(100)
	for minute := from; minute < to; minute++ {
		at(minute)
		var tokens []mqtt.Token
		for _, h := range homes(streamHomes) {
			payload, err := senml.AppendJSON(nil, "meter", minuteOf(h.ID, minute))
			if err != nil {
				t.Fatal(err)
			}
			tokens = append(tokens, client.Publish("homes/"+h.ID+"/sensors/meter", 1, false, payload))
		}
		if minute%50 != 0 && minute != to-1 {
			continue
		}
		for _, token := range tokens {
			if !token.WaitTimeout(30*time.Second) || token.Error() != nil {
				t.Fatal(errors.Join(errors.New("not acknowledged"), token.Error()))
			}
		}
	}
}

// awaitAlerts waits until every home has caught up and has an alert, and nothing
// waits for the store.
func awaitAlerts(t *testing.T, c *collector.Collector, settled func() bool) {
	t.Helper()
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) { // another process: there is nothing else to wait on
		alerts, err := c.Alerts(context.Background(), "")
		if err != nil || time.Since(began) > time.Minute {
			t.Fatalf("it does not catch up: %+v, %d alerts, %v", c.Health(), len(alerts), err)
		}
		if c.Health().Behind == 0 && len(alerts) >= streamHomes && settled() {
			return
		}
	}
}
