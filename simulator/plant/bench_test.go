package plant

import (
	"testing"
	"time"

	"brinebell/detect"
)

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		New(detect.DefaultHome("a", time.UTC), Setup{})
	}
}
