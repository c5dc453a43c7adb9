package collector_test

import (
	"flag"
	"syscall"
	"testing"
	"time"

	"brinebell/collector/feeder"
)

var (
	restartHomes = flag.Int("restart-homes", 10_000, "homes of BenchmarkRestart")
	restartHours = flag.Duration("restart-hours", 2*time.Hour, "how much of their time BenchmarkRestart's homes have measured")
)

// BenchmarkRestart fills the stores with some hours of homes that measure six
// signals every ten seconds, and times how long the collector takes until it
// takes readings in again: after a stop, and after a kill. It gives the memory
// it holds before and after.
func BenchmarkRestart(b *testing.B) {
	for range b.N {
		restart(b, b.TempDir())
	}
	b.ReportMetric(0, "ns/op")
}

func restart(b *testing.B, dir string) {
	n := *restartHomes
	l := startLoaded(b, n, dir, "")
	b.ReportMetric(l.ready.Seconds(), "first-start-s")
	began := time.Now()
	readings := fill(b, l.broker, n, time.Now().Add(-*restartHours).Truncate(loadEvery))
	b.ReportMetric(float64(readings)/time.Since(began).Seconds(), "filled/s")
	b.ReportMetric(l.memory(b), "filled-MiB")

	began = time.Now()
	l.stop(b)
	b.ReportMetric(time.Since(began).Seconds(), "stop-s")

	l = startLoaded(b, n, dir, "")
	b.ReportMetric(l.ready.Seconds(), "after-stop-s")
	b.ReportMetric(l.caughtUp(b).Seconds(), "after-stop-all-s")
	b.ReportMetric(l.processor(b), "after-stop-cpu-s")
	b.ReportMetric(l.memory(b), "after-stop-MiB")

	if err := l.command.Process.Signal(syscall.SIGKILL); err != nil {
		b.Fatal(err)
	}
	_ = l.command.Wait()
	l = startLoaded(b, n, dir, "")
	b.ReportMetric(l.ready.Seconds(), "after-kill-s")
	b.ReportMetric(l.caughtUp(b).Seconds(), "after-kill-all-s")
	b.ReportMetric(l.processor(b), "after-kill-cpu-s")
	b.ReportMetric(l.memory(b), "after-kill-MiB")
	l.stop(b)
}

// memory is what the process holds, MiB.
func (l *loaded) memory(b *testing.B) float64 {
	return scrape(b, l.metrics).sum("process_resident_memory_bytes", "", "") / (1 << 20)
}

// processor is the processor time that the process has taken, in seconds of one
// core: what a busy machine does not change.
func (l *loaded) processor(b *testing.B) float64 {
	return scrape(b, l.metrics).sum("process_cpu_seconds_total", "", "")
}

// caughtUp waits until every home has been judged up to the store, and gives
// the time since the start.
func (l *loaded) caughtUp(b *testing.B) time.Duration {
	b.Helper()
	for scrape(b, l.metrics).sum("brinebell_homes_behind", "", "") > 0 {
		time.Sleep(100 * time.Millisecond)
	}
	return time.Since(l.began)
}

// fill sends what the homes have measured since a time, in packs of five
// minutes, as fast as it is taken; it returns how many readings that were.
func fill(b *testing.B, url string, n int, from time.Time) (readings int) {
	b.Helper()
	f, err := feeder.Connect(b.Context(), feeder.Options{URL: url, InFlight: 2000})
	if err != nil {
		b.Fatal(err)
	}
	const pack = 5 * time.Minute
	for slot := from; slot.Before(time.Now()); slot = slot.Add(pack) {
		for home := range n {
			for at := slot; at.Before(slot.Add(pack)); at = at.Add(loadEvery) {
				for _, s := range loadSignals {
					if err := f.Add(b.Context(), loadReading(home, s, at)); err != nil {
						b.Fatal(err)
					}
					readings++
				}
			}
		}
	}
	if err := f.Close(b.Context()); err != nil {
		b.Fatal(err)
	}
	return readings
}
