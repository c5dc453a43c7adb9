package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	client "github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"brinebell/collector"
	"brinebell/collector/influxtest"
	"brinebell/collector/mosquittotest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/collector/series/spool"
	"brinebell/detect"
)

// runUntilStopped runs a part until the test ends.
func runUntilStopped(t *testing.T, part func(context.Context) error) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- part(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	})
}

// observeDemo runs the demonstration: an embedded broker and store, six homes.
// It returns the address of its metrics, host:port.
func observeDemo(t *testing.T) string {
	t.Helper()
	d, err := newDemo(t.Context(), streams{strings.NewReader(""), io.Discard, io.Discard},
		demoFlags{listen: "127.0.0.1:0", data: t.TempDir(), seed: demoSeed, secondsADay: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	runUntilStopped(t, d.run)
	return strings.Trim(strings.TrimPrefix(d.service.URL(), "http://"), "/")
}

// observeServed runs a collector behind Mosquitto, which stores by way of the
// spool at an InfluxDB, and returns the address of its metrics.
func observeServed(t *testing.T) string {
	t.Helper()
	broker, server := mosquittotest.Start(t), influxtest.Start(t)
	bucket := server.NewBucket(t)
	registry := client.NewRegistry()
	c, err := collector.Open(t.Context(), collector.Options{Dir: t.TempDir(), Homes: []detect.Home{detect.DefaultHome("a", time.UTC)},
		Registerer: registry, Broker: collector.BrokerOptions{URL: broker},
		OpenStore: func(reg client.Registerer) (series.Store, error) {
			behind, err := influx.Open(influx.Options{URL: server.URL, Bucket: bucket})
			if err != nil {
				return nil, err
			}
			return spool.Open(spool.Options{Dir: t.TempDir(), Store: behind, Registerer: reg})
		}})
	if err != nil {
		t.Fatal(err)
	}
	runUntilStopped(t, func(ctx context.Context) error { return errors.Join(c.Run(ctx), c.Close()) })
	web := httptest.NewServer(promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	t.Cleanup(web.Close)
	return strings.TrimPrefix(web.URL, "http://")
}

// get is the body of an address.
func get(t *testing.T, address string) string {
	t.Helper()
	response, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %v\n%s", address, response.Status, err, text)
	}
	return string(text)
}

// TestObserved starts two collectors, one with everything embedded and one
// behind a broker with its store at a server, and holds to them what is made for
// those who watch collectors.
func TestObserved(t *testing.T) {
	demo, served := observeDemo(t), observeServed(t)
	t.Run("metrics are named by conventions", func(t *testing.T) { checkNames(t, demo, served) })
	t.Run("alerts ask for what there is", func(t *testing.T) { checkAlerts(t, demo, served) })
	t.Run("panels show something", func(t *testing.T) { checkPromPanels(t, demo, served) })
}

// checkNames has promtool look at what collectors show.
func checkNames(t *testing.T, addresses ...string) {
	program, err := exec.LookPath("promtool")
	if err != nil {
		t.Skip("left out: the metrics' names, as promtool is not installed (apt-get install prometheus)")
	}
	for _, address := range addresses {
		check := exec.Command(program, "check", "metrics")
		check.Stdin = strings.NewReader(get(t, "http://"+address+"/metrics"))
		if out, err := check.CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%v\n%s", err, out)
		}
	}
}

// prometheusServer scrapes targets and answers queries.
type prometheusServer struct{ url string }

// startPrometheus starts a real server, which ends with the test. Where it is
// not installed the test is skipped.
func startPrometheus(t *testing.T, targets ...string) prometheusServer {
	t.Helper()
	program, err := exec.LookPath("prometheus")
	if err != nil {
		t.Skip("left out: the panels' queries to Prometheus, as it is not installed (apt-get install prometheus)")
	}
	dir, address := t.TempDir(), freeAddress(t)
	config := fmt.Sprintf("global: {scrape_interval: 500ms, scrape_timeout: 500ms}\nscrape_configs: [{job_name: brinebell, static_configs: [{targets: [%s]}]}]\n", strings.Join(targets, ", "))
	if err := os.WriteFile(filepath.Join(dir, "prometheus.yml"), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	command := exec.Command(program, "--config.file", filepath.Join(dir, "prometheus.yml"), "--storage.tsdb.path", filepath.Join(dir, "data"),
		"--web.listen-address", address, "--log.level", "error")
	command.Stderr = os.Stderr
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = command.Process.Kill(); _ = command.Wait() })
	return prometheusServer{"http://" + address}
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// ask runs a query over the last minute and gives how many series have values.
func (p prometheusServer) ask(expr string) (n int, err error) {
	now := time.Now()
	values := url.Values{"query": {expr}, "step": {"1s"}, "start": {fmt.Sprint(now.Add(-time.Minute).Unix())}, "end": {fmt.Sprint(now.Unix())}}
	response, err := http.Get(p.url + "/api/v1/query_range?" + values.Encode())
	if err != nil {
		return 0, err
	}
	defer response.Body.Close()
	var answer struct {
		Status, Error string
		Data          struct{ Result []json.RawMessage }
	}
	if err := json.NewDecoder(response.Body).Decode(&answer); err != nil {
		return 0, err
	}
	if answer.Status != "success" {
		return 0, errors.New(answer.Error)
	}
	return len(answer.Data.Result), nil
}

// await waits until a query has so many series.
func (p prometheusServer) await(t *testing.T, expr string, want int) {
	t.Helper()
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for deadline := time.After(time.Minute); ; {
		n, err := p.ask(expr)
		if err == nil && n >= want {
			return
		}
		select {
		case <-tick.C:
		case <-deadline:
			t.Fatalf("%s has %d series, want %d: %v", expr, n, want, err)
		}
	}
}
