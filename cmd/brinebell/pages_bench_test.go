package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"brinebell/collector"
	"brinebell/collector/series"
	"brinebell/detect"
)

// The firm of BenchmarkPagesOfAFirm: its homes have a day and a half at half an
// hour's pace, but for one with four weeks at ten seconds'.
const (
	firmHomes  = 10_000
	firmSpan   = 36 * time.Hour
	firmPace   = 30 * time.Minute
	wholeSpan  = 28 * 24 * time.Hour
	wholePace  = 10 * time.Second
	firmWarmUp = 5 // rounds of all pages before any is measured
)

// BenchmarkPagesOfAFirm asks a whole service for the pages of a firm of 10,000
// homes, over HTTP and from stores on the disk that are warm, and reports the
// 95th percentile of each page.
func BenchmarkPagesOfAFirm(b *testing.B) {
	dir, homes := b.TempDir(), make([]detect.Home, firmHomes)
	for i := range homes {
		homes[i] = detect.DefaultHome(fmt.Sprintf("home-%05d", i), time.UTC)
		homes[i].Name = fmt.Sprintf("%d Mill Lane", i)
	}
	fillStore(b, dir, homes)
	s, err := openService(b.Context(), serviceOptions{listen: "127.0.0.1:0", title: "Firm",
		collector: collector.Options{Dir: dir, Homes: homes, Broker: collector.BrokerOptions{Listen: "127.0.0.1:0"}, NoSync: true, Logger: slog.New(slog.DiscardHandler)}})
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(b.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	b.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
		_ = s.Close()
	})
	for !s.collector.Health().Ready {
		time.Sleep(50 * time.Millisecond) // a benchmark: nothing else says so
	}
	paths := []string{"", "?page=7", "?q=mill+42", "?level=quiet&page=300", "salt", "fleet", "homes/home-00000", "homes/home-04711", "homes/home-00000/regenerations"}
	for range firmWarmUp {
		for _, p := range paths {
			fetch(b, s.URL()+p)
		}
	}
	for _, p := range paths {
		b.Run("/"+p, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				start := time.Now()
				fetch(b, s.URL()+p)
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

func fetch(b *testing.B, url string) {
	b.Helper()
	r, err := http.Get(url)
	if err != nil {
		b.Fatal(err)
	}
	defer r.Body.Close()
	if _, err := io.Copy(io.Discard, r.Body); err != nil || r.StatusCode != http.StatusOK {
		b.Fatal(url, r.StatusCode, err)
	}
}

// fillStore writes readings of every home up to now.
func fillStore(b *testing.B, dir string, homes []detect.Home) {
	b.Helper()
	store, err := series.Open(series.Options{Dir: filepath.Join(dir, "series"), NoSync: true, Window: wholeSpan + time.Hour, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		b.Fatal(err)
	}
	now, random := time.Now().UTC().Truncate(time.Minute), rand.New(rand.NewPCG(4, 2))
	var batch []detect.Reading
	flush := func() {
		if _, err := store.Append(b.Context(), batch); err != nil {
			b.Fatal(err)
		}
		batch = batch[:0]
	}
	for i, h := range homes {
		span, pace := firmSpan, firmPace
		if i == 0 {
			span, pace = wholeSpan, wholePace
		}
		total := 1000.0
		for at := now.Add(-span); at.Before(now); at = at.Add(pace) {
			if hour := at.Hour(); hour > 5 && random.Float64() < 0.2 {
				total += pace.Minutes() * random.Float64() * 3
			}
			batch = append(batch, detect.Reading{Home: h.ID, Signal: detect.InletVolume, Time: at, Value: float64(int(total*10)) / 10},
				detect.Reading{Home: h.ID, Signal: detect.BrineLevel, Time: at, Value: 180 + random.NormFloat64()}, detect.Reading{Home: h.ID, Signal: detect.DrainVolume, Time: at, Value: 500})
			if len(batch) >= 5000 {
				flush()
			}
		}
	}
	flush()
	if err := store.Close(); err != nil {
		b.Fatal(err)
	}
}
