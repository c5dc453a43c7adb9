package casebook

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
)

// fleet is a casebook with so many homes that have three alerts each, two of
// them of one trouble.
func fleet(b *testing.B, homes int) *scene {
	b.Helper()
	s := &scene{t: b, path: filepath.Join(b.TempDir(), "state.db"), now: noon}
	s.open()
	b.Cleanup(func() { _ = s.db.Close() })
	for i := range homes {
		home := fmt.Sprintf("home-%d", i)
		leak := raised(home, detect.NightLeak, 0)
		leak.Evidence["litres_per_day"] = float64(i % 977)
		s.store(state.Progress{Home: home, Alerts: []detect.Alert{leak, raised(home, detect.RegenerationFrequent, 0.1), raised(home, detect.SaltLow, 0.2)}})
	}
	return s
}

// BenchmarkTake takes the alerts of a thousand homes in at once.
func BenchmarkTake(b *testing.B) {
	const homes = 1000
	for b.Loop() {
		b.StopTimer()
		s := fleet(b, homes)
		b.StartTimer()
		began := time.Now()
		s.take()
		b.ReportMetric(float64(time.Since(began).Microseconds())/homes, "us/home")
	}
}

// BenchmarkList reads a page of a firm with two thousand homes.
func BenchmarkList(b *testing.B) {
	s := fleet(b, 2_000)
	s.take()
	var homes []string
	for i := range 2_000 {
		homes = append(homes, fmt.Sprintf("home-%d", i))
	}
	for name, q := range map[string]Query{"every home": {}, "of a list": {Homes: homes}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if page, err := s.book.List(context.Background(), q); err != nil || len(page.Cases) != DefaultLimit {
					b.Fatal(len(page.Cases), err)
				}
			}
		})
	}
}
