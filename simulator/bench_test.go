package simulator

import (
	"context"
	"testing"
	"time"

	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// BenchmarkHomeDay simulates one home with every sensor at 10 s. The aim is 300
// home-days per second and core.
func BenchmarkHomeDay(b *testing.B) {
	full, err := sensor.ParseSet("full")
	if err != nil {
		b.Fatal(err)
	}
	profile, err := Profile(1, 0, Profiles{Signals: full})
	if err != nil {
		b.Fatal(err)
	}
	h, err := NewHome(profile, Options{Seed: 1, Start: day0, Days: 100_000, Sensors: sensor.Fitting{Signals: full}, Population: household.Ordinary()})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	var out []sensor.Sample
	readings := 0
	for b.Loop() {
		out = h.Advance(h.now+24*time.Hour.Milliseconds(), out[:0])
		readings += len(out)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "home-days/s")
	b.ReportMetric(float64(readings)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkTown hands out everything in the order of time, on every core.
func BenchmarkTown(b *testing.B) {
	const homes, days = 16, 10
	readings := 0
	for b.Loop() {
		err := NewTown(someHomes(b, homes, days, "full", nil), 0).Run(context.Background(), func(Arrival) error { readings++; return nil })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*homes*days)/b.Elapsed().Seconds(), "home-days/s")
	b.ReportMetric(float64(readings)/b.Elapsed().Seconds(), "readings/s")
}
