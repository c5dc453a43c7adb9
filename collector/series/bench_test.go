package series_test

import (
	"fmt"
	"testing"
	"time"

	"brinebell/collector/series"
	"brinebell/detect"
)

func BenchmarkAppend(b *testing.B) {
	for _, c := range []struct {
		batch  int
		noSync bool
	}{{1, false}, {100, false}, {5000, false}, {100, true}, {5000, true}} {
		b.Run(fmt.Sprintf("batch=%d/sync=%v", c.batch, !c.noSync), func(b *testing.B) {
			s := open(b, series.Options{Dir: b.TempDir(), NoSync: c.noSync})
			defer s.Close()
			batch := make([]detect.Reading, c.batch)
			at := noon
			b.ReportAllocs()
			for b.Loop() {
				for i := range batch {
					if i%200 == 0 {
						at = at.Add(10 * time.Second)
					}
					batch[i] = detect.Reading{Home: homes[i%200/2], Signal: detect.Signal(i % 2), Time: at, Value: float64(i)}
				}
				add(b, s, batch)
			}
			b.ReportMetric(float64(b.N*c.batch)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}

var homes = func() (ids [100]string) {
	for i := range ids {
		ids[i] = fmt.Sprintf("home-%d", i)
	}
	return ids
}()
