package main

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"brinebell/collector/recording"
	"brinebell/collector/series"
	"brinebell/detect"
	"brinebell/simulator"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// BenchmarkStoreSimulated stores a month of simulated homes with all their
// sensors, and says what a reading takes on the disk once it is in blocks, and how
// long a week of one home's signal takes to read.
func BenchmarkStoreSimulated(b *testing.B) {
	const homes, days = 4, 30
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	s := benchStore(b)
	readings := 0
	full, err := sensor.ParseSet("full")
	if err != nil {
		b.Fatal(err)
	}
	for i := range homes {
		profile, err := simulator.Profile(7, i, simulator.Profiles{Signals: full})
		if err != nil {
			b.Fatal(err)
		}
		h, err := simulator.NewHome(profile, simulator.Options{Seed: uint64(i), Start: start, Days: days, Sensors: sensor.Fitting{Signals: full, Interval: 10 * time.Second}, Population: household.Ordinary()})
		if err != nil {
			b.Fatal(err)
		}
		for d := range days {
			var batch []detect.Reading
			for _, x := range h.Advance(start.AddDate(0, 0, d+1).UnixMilli(), nil) {
				batch = append(batch, detect.Reading{Home: profile.ID, Signal: x.Signal, Time: time.UnixMilli(x.Measured).UTC(), Value: x.Value})
			}
			if _, err := s.Append(context.Background(), batch); err != nil {
				b.Fatal(err)
			}
			readings += len(batch)
		}
	}
	measureStore(b, s, readings, start.AddDate(0, 0, 12))
}

// BenchmarkStoreReal is the same for the recorded homes.
func BenchmarkStoreReal(b *testing.B) {
	s := benchStore(b)
	readings := 0
	var middle time.Time
	for _, name := range []string{"apartment.csv.gz", "sprinkler-house.csv.gz"} {
		f, err := recording.Open(filepath.Join("../../testdata/real", name), recording.Options{})
		if err != nil {
			b.Fatal(err)
		}
		var batch []detect.Reading
		for {
			r, err := f.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			batch = append(batch, r)
		}
		_ = f.Close()
		middle = batch[len(batch)/2].Time
		if _, err := s.Append(context.Background(), batch); err != nil {
			b.Fatal(err)
		}
		readings += len(batch)
	}
	measureStore(b, s, readings, middle)
}

func benchStore(b *testing.B) *series.TSDB {
	s, err := series.Open(series.Options{Dir: b.TempDir(), NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	return s
}

// measureStore reports bytes a reading, from a copy in which all is in blocks, and
// the time to read a week of each signal.
func measureStore(b *testing.B, s *series.TSDB, readings int, from time.Time) {
	ctx := context.Background()
	if err := s.Compact(ctx); err != nil {
		b.Fatal(err)
	}
	copied := filepath.Join(b.TempDir(), "copy")
	if err := s.Snapshot(ctx, copied); err != nil {
		b.Fatal(err)
	}
	c, err := series.Check(ctx, copied, nil)
	if err != nil || c.Samples > readings {
		b.Fatal(c, err)
	}
	bytes := folderSize(b, copied)
	homes, err := s.Homes(ctx)
	if err != nil {
		b.Fatal(err)
	}
	signals, err := s.Signals(ctx, homes[0])
	if err != nil {
		b.Fatal(err)
	}
	points, reads := 0, 0
	began := cpuTime(b)
	for b.Loop() {
		for _, signal := range signals {
			got, err := s.Read(ctx, homes[0], signal, from, from.AddDate(0, 0, 7))
			if err != nil {
				b.Fatal(err)
			}
			points += len(got)
			reads++
		}
	}
	b.ReportMetric(float64(bytes)/float64(c.Samples), "bytes/reading")
	b.ReportMetric(b.Elapsed().Seconds()*1e3/float64(reads), "ms/week")
	b.ReportMetric((cpuTime(b)-began).Seconds()*1e3/float64(reads), "cpu-ms/week") // the machine may be shared
	b.ReportMetric(float64(points)/float64(reads), "readings/week")
	b.ReportMetric(0, "ns/op")
	b.Logf("%d readings in %d blocks, %d bytes", c.Samples, c.Blocks, bytes)
}

// cpuTime is what the process has used of all cores.
func cpuTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func folderSize(b *testing.B, dir string) (n int64) {
	err := filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			n += info.Size()
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	return n
}
