package collector_test

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"runtime"
	"runtime/pprof"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"brinebell/collector"
	"brinebell/collector/mosquittotest"
	"brinebell/collector/senml"
	"brinebell/detect"
)

var (
	loadFor     = flag.Duration("load-for", time.Minute, "how long BenchmarkSustained sends readings")
	loadProfile = flag.String("load-profile", "", "file for a CPU profile of the benchmarks' collector, and with .heap behind it for one of its memory")
)

// Each home of the load has these, and measures each every ten seconds.
var loadSignals = []detect.Signal{detect.InletVolume, detect.ServiceVolume, detect.DrainVolume, detect.BrineLevel, detect.SaltLevel, detect.InletPressure}

const loadEvery = 10 * time.Second

// runLoaded is a collector of many homes behind a broker, which shows its
// metrics. It prints where, once it takes readings in.
func runLoaded() error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	if path := os.Getenv("PROFILE"); path != "" {
		f, err := os.Create(path)
		if err != nil {
			return err
		}
		if err := pprof.StartCPUProfile(f); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	n, err := strconv.Atoi(os.Getenv("HOMES"))
	if err != nil {
		return err
	}
	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	c, err := collector.Open(ctx, collector.Options{Dir: os.Getenv("DIR"), Homes: homes(n), Registerer: registry,
		Broker: collector.BrokerOptions{URL: os.Getenv("URL"), Listen: os.Getenv("LISTEN")}})
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	go func() { _ = http.Serve(l, promhttp.HandlerFor(registry, promhttp.HandlerOpts{})) }() // ends with the process
	go func() {
		for !c.Health().Ready || !c.Health().Connected {
			time.Sleep(time.Millisecond)
		}
		fmt.Println("http://"+l.Addr().String()+"/metrics", "tcp://"+c.BrokerAddr())
	}()
	err = c.Run(ctx)
	if path := os.Getenv("PROFILE"); path != "" {
		writeHeap(path + ".heap")
	}
	return errors.Join(err, c.Close())
}

// writeHeap writes a profile of what is held.
func writeHeap(path string) {
	f, err := os.Create(path)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return
	}
	runtime.GC()
	if err := errors.Join(pprof.WriteHeapProfile(f), f.Close()); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
}

// loaded is that process as its benchmark sees it.
type loaded struct {
	command *exec.Cmd
	metrics string // URL
	broker  string // URL of the embedded one
	began   time.Time
	ready   time.Duration // after which it took readings in
}

// startLoaded starts it behind the broker at url, or with its own when there is
// none.
func startLoaded(b *testing.B, n int, dir, url string) *loaded {
	b.Helper()
	command := exec.Command(os.Args[0])
	command.Env = append(os.Environ(), roleVariable+"=loaded", "HOMES="+strconv.Itoa(n), "DIR="+dir, "URL="+url, "PROFILE="+*loadProfile,
		"LIFETIME="+(*loadFor+30*time.Minute).String())
	if url == "" {
		command.Env = append(command.Env, "LISTEN=127.0.0.1:0")
	}
	command.Stderr = os.Stderr
	out, err := command.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	began := time.Now()
	if err := command.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = command.Process.Kill(); _ = command.Wait() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		b.Fatal("the collector did not start: ", err)
	}
	metrics, broker, _ := strings.Cut(strings.TrimSpace(line), " ")
	return &loaded{command, metrics, broker, began, time.Since(began)}
}

// stop ends it and returns the processor time it took.
func (l *loaded) stop(b *testing.B) time.Duration {
	b.Helper()
	if err := l.command.Process.Signal(syscall.SIGTERM); err != nil {
		b.Fatal(err)
	}
	if err := l.command.Wait(); err != nil {
		b.Fatal(err)
	}
	return l.command.ProcessState.UserTime() + l.command.ProcessState.SystemTime()
}

// loadReading is what a home's sensor measures at a time: some water used, some
// of it with the drain, a level that moves.
func loadReading(home int, s detect.Signal, at time.Time) detect.Reading {
	n := at.Unix()
	value := 100 + float64((n+int64(home))%600)/60
	switch s {
	case detect.InletVolume, detect.ServiceVolume:
		value = float64(n/600) + float64(n%600)/600
	case detect.DrainVolume:
		value = float64(n / 86400)
	}
	return detect.Reading{Home: "home-" + strconv.Itoa(home), Signal: s, Time: at, Value: value}
}

// sendLoad sends every home's readings at their pace, each in a message of its
// own, for a while; it returns how many the broker acknowledged and by how much
// it fell behind.
func sendLoad(b *testing.B, url string, n int, during time.Duration) (sent int, behind time.Duration) {
	b.Helper()
	p := connect(b, url)
	defer p.Disconnect(100)
	window := make(chan mqtt.Token, 4000)
	landed := make(chan int)
	go func() {
		count := 0
		for token := range window {
			if token.Wait(); token.Error() == nil {
				count++
			}
		}
		landed <- count
	}()
	began := time.Now()
	pause := loadEvery / time.Duration(n*len(loadSignals))
	for i := 0; time.Since(began) < during; i++ {
		if due := began.Add(time.Duration(i) * pause); i%20 == 0 {
			time.Sleep(time.Until(due))
			behind = max(behind, time.Since(due))
		}
		home, s := i/len(loadSignals)%n, loadSignals[i%len(loadSignals)]
		r := loadReading(home, s, time.Now())
		payload, err := senml.AppendJSON(nil, s.String(), []detect.Reading{r})
		if err != nil {
			b.Fatal(err)
		}
		window <- p.Publish("homes/"+r.Home+"/sensors/"+s.String(), 1, false, payload)
	}
	close(window)
	return <-landed, behind
}

// BenchmarkSustained lets homes of six signals send every ten seconds, each
// reading in a message of its own, through Mosquitto to a collector that makes
// each durable and judges it. It gives the lag from measuring to stored and
// judged, and what the collector takes of a core and of memory, beside a
// subscriber that does nothing with the same messages.
func BenchmarkSustained(b *testing.B) {
	for _, n := range []int{1, 100, 10_000} {
		b.Run(fmt.Sprintf("homes=%d", n), func(b *testing.B) {
			for range b.N {
				sustain(b, n)
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

func sustain(b *testing.B, n int) {
	url := mosquittotest.Start(b)
	l := startLoaded(b, n, b.TempDir(), url)
	sent, behind := sendLoad(b, url, n, *loadFor)
	m := scrape(b, l.metrics)
	for stored := 0.0; stored < float64(sent); m = scrape(b, l.metrics) {
		stored = m.sum("brinebell_readings_total", "outcome", "stored")
	}
	m = scrape(b, l.metrics)
	lag := m.histogram("brinebell_reading_lag_seconds")
	b.ReportMetric(float64(sent)/loadFor.Seconds(), "readings/s")
	b.ReportMetric(behind.Seconds(), "sender-behind-s")
	b.ReportMetric(lag.quantile(0.5), "lag-p50-s")
	b.ReportMetric(lag.quantile(0.99), "lag-p99-s")
	b.ReportMetric(lag.quantile(1), "lag-most-s")
	b.ReportMetric(m.sum("process_resident_memory_bytes", "", "")/(1<<20), "MiB")
	b.ReportMetric(l.stop(b).Seconds()/loadFor.Seconds(), "cores")
}
