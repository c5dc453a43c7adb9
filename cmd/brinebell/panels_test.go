package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/prometheus/prometheus/promql/parser"
	"go.yaml.in/yaml/v3"

	"brinebell/collector/influxtest"
	"brinebell/collector/series/influx"
	"brinebell/dashboards/grafana"
	"brinebell/dashboards/prometheus"
	"brinebell/detect"
)

// checkPromPanels runs each panel's query on a real Prometheus that scrapes the
// collectors.
func checkPromPanels(t *testing.T, addresses ...string) {
	p := startPrometheus(t, addresses...)
	p.await(t, `rate(brinebell_readings_total{outcome="stored"}[10s]) > 0`, 1)
	p.await(t, `count by (instance) (rate(brinebell_messages_total[10s]))`, len(addresses))
	for _, q := range grafana.PromQueries() {
		expr := strings.NewReplacer("$__rate_interval", "10s", "$instance", ".*").Replace(q.Text)
		n, err := p.ask(expr)
		if err != nil {
			t.Errorf("%s, %s: %v\n%s", q.Dashboard, q.Panel, err, expr)
		} else if n == 0 && !missing(q.Only) {
			t.Errorf("%s, %s shows nothing:\n%s", q.Dashboard, q.Panel, expr)
		}
	}
}

// missing says whether it may be that neither collector of the test meets a
// panel's condition: nobody is told in the first seconds.
func missing(only string) bool { return only == "people are told" || only == "alerts have changed" }

// checkAlerts looks for each metric of the alert rules among those that
// collectors show.
func checkAlerts(t *testing.T, addresses ...string) {
	shown := ""
	for _, address := range addresses {
		shown += get(t, "http://"+address+"/metrics")
	}
	var file struct {
		Groups []struct {
			Rules []struct{ Alert, Expr string }
		}
	}
	if err := yaml.Unmarshal(prometheus.Alerts(), &file); err != nil {
		t.Fatal(err)
	}
	for _, g := range file.Groups {
		for _, r := range g.Rules {
			for _, metric := range metricsOf(t, r.Expr) {
				if metric != "up" && !strings.Contains(shown, "\n# TYPE "+strings.TrimSuffix(metric, "_bucket")+" ") {
					t.Errorf("%s asks for %s, which no collector shows", r.Alert, metric)
				}
			}
		}
	}
}

// metricsOf are the metrics that an expression asks for.
func metricsOf(t *testing.T, expr string) (names []string) {
	t.Helper()
	parsed, err := parser.NewParser(parser.Options{}).ParseExpr(expr)
	if err != nil {
		t.Fatal(err)
	}
	parser.Inspect(parsed, func(n parser.Node, _ []parser.Node) error {
		if s, ok := n.(*parser.VectorSelector); ok {
			names = append(names, s.Name)
		}
		return nil
	})
	return names
}

// TestFluxPanelsShowSomething runs each query of the homes' dashboards on a real
// InfluxDB with three days of two homes that have every sensor.
func TestFluxPanelsShowSomething(t *testing.T) {
	server := influxtest.Start(t)
	bucket := server.NewBucket(t)
	start := time.Now().Add(-72 * time.Hour).Truncate(time.Minute)
	store, err := influx.Open(influx.Options{URL: server.URL, Bucket: bucket})
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	if _, err := store.Append(t.Context(), everySensor([]string{"mill-lane-4", "mill-lane-5", "elsewhere"}, start, 72*time.Hour)); err != nil {
		t.Fatal(err)
	}
	client := influxdb2.NewClient(server.URL, "")
	defer client.Close()
	for _, q := range grafana.FluxQueries() {
		rows, other := fluxRows(t, client, q, bucket, start)
		if rows == 0 || other {
			t.Errorf("%s, %s: %d rows, of another home: %v\n%s", q.Dashboard, q.Panel, rows, other, q.Text)
		}
	}
}

// fluxRows runs a query as Grafana would for two of the homes.
func fluxRows(t *testing.T, client influxdb2.Client, q grafana.Query, bucket string, start time.Time) (rows int, other bool) {
	t.Helper()
	text := strings.NewReplacer("${bucket}", bucket, "${home:regex}", "(mill-lane-4|mill-lane-5)", "v.timeRangeStart", start.Format(time.RFC3339),
		"v.timeRangeStop", start.Add(72*time.Hour).Format(time.RFC3339), "v.windowPeriod", "10m").Replace(q.Text)
	if left := regexp.MustCompile(`\$\{|\bv\.[a-z]+[A-Z]`).FindString(text); left != "" {
		t.Errorf("%s: a variable that Grafana does not know: %s", q.Panel, left)
	}
	result, err := client.QueryAPI("").Query(context.Background(), text)
	if err != nil {
		t.Errorf("%s, %s: %v\n%s", q.Dashboard, q.Panel, err, text)
		return 0, false
	}
	defer result.Close()
	for result.Next() {
		rows++
		other = other || result.Record().ValueByKey("home") == "elsewhere"
	}
	if result.Err() != nil {
		t.Errorf("%s, %s: %v\n%s", q.Dashboard, q.Panel, result.Err(), text)
	}
	return rows, other
}

// everySensor are homes' readings of each signal, every ten minutes.
func everySensor(homes []string, start time.Time, during time.Duration) (out []detect.Reading) {
	for at := start; at.Before(start.Add(during)); at = at.Add(10 * time.Minute) {
		for i, home := range homes {
			for s := range detect.NumSignals {
				value := float64(int(at.Sub(start).Minutes())%100 + i)
				if strings.HasSuffix(s.String(), "_volume") {
					value = at.Sub(start).Minutes() / 3
				}
				out = append(out, detect.Reading{Home: home, Signal: s, Time: at, Value: value})
			}
		}
	}
	return out
}

// TestDashboardsCommand writes all files, and says what is missing.
func TestDashboardsCommand(t *testing.T) {
	dir := t.TempDir()
	must(t, "dashboards", "--out", dir)
	for _, name := range []string{"grafana/home.json", "grafana/firm.json", "grafana/collector.json", "prometheus/alerts.yaml", "prometheus/scrape.yaml"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s was not written: %v", name, err)
		}
	}
	if code, _, errOut := command(t, "dashboards"); code != exitUsage || !strings.Contains(errOut, "--out") {
		t.Errorf("exit %d: %s", code, errOut)
	}
	if code, _, errOut := command(t, "dashboards", "--out", dir+"/grafana/home.json"); code != exitFail || errOut == "" {
		t.Errorf("exit %d: %s", code, errOut)
	}
}
