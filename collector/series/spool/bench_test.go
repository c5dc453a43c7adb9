package spool

import (
	"context"
	"fmt"
	"testing"
	"time"

	"brinebell/collector/influxtest"
	"brinebell/collector/series/influx"
	"brinebell/detect"
)

// tick is one round of readings of many homes, six signals each.
func tick(homes int, at time.Time) (out []detect.Reading) {
	for h := range homes {
		for s := range 6 {
			out = append(out, detect.Reading{Home: fmt.Sprintf("home-%05d", h), Signal: detect.Signal(s), Time: at, Value: float64(h+s) / 7})
		}
	}
	return out
}

// BenchmarkAppend is what the intake waits for: a batch written and flushed.
func BenchmarkAppend(b *testing.B) {
	for _, homes := range []int{17, 833} { // 100 and 5,000 readings
		b.Run(fmt.Sprintf("readings=%d", homes*6), func(b *testing.B) {
			s := open(b, Options{Dir: b.TempDir(), Store: &fakeStore{}, Limit: 64 << 30})
			at := noon
			for b.Loop() {
				at = at.Add(10 * time.Second)
				add(b, s, tick(homes, at))
			}
			b.ReportMetric(float64(b.N*homes*6)/b.Elapsed().Seconds(), "readings/s")
			b.ReportMetric(float64(s.State().Bytes)/float64(s.State().Readings), "bytes/reading")
			_ = s.Close()
		})
	}
}

// BenchmarkToInflux writes a backlog to a real server and reads a home's day back.
func BenchmarkToInflux(b *testing.B) {
	server := influxtest.Start(b)
	const homes, ticks = 100, 360
	for b.Loop() {
		store, err := influx.Open(influx.Options{URL: server.URL, Bucket: server.NewBucket(b)})
		if err != nil {
			b.Fatal(err)
		}
		s := open(b, Options{Dir: b.TempDir(), Store: store, Rate: 1e9})
		for i := range ticks {
			add(b, s, tick(homes, noon.Add(time.Duration(i)*10*time.Second)))
		}
		began := time.Now()
		drain(b, s)
		b.ReportMetric(homes*ticks*6/time.Since(began).Seconds(), "readings/s")
		began = time.Now()
		readings, err := s.ReadHome(context.Background(), "home-00050", noon, noon.AddDate(0, 0, 1))
		if err != nil || len(readings) != ticks*6 {
			b.Fatal(len(readings), err)
		}
		b.ReportMetric(time.Since(began).Seconds()*1e3, "ms/home-hour")
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
	}
}
