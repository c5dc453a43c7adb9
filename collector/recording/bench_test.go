package recording

import (
	"errors"
	"io"
	"path/filepath"
	"testing"
)

func BenchmarkReader(b *testing.B) {
	const lines = 1_000_000
	for _, name := range []string{"a.csv", "a.csv.gz"} {
		b.Run(name, func(b *testing.B) {
			path := filepath.Join(b.TempDir(), name)
			writeFile(b, path, sample(lines))
			b.ReportAllocs()
			for b.Loop() {
				r, err := Open(path, Options{})
				if err != nil {
					b.Fatal(err)
				}
				n := 0
				for ; ; n++ {
					if _, err := r.Next(); errors.Is(err, io.EOF) {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
				if n != lines {
					b.Fatal(n)
				}
				if err := r.Close(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(lines)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mlines/s")
		})
	}
}
