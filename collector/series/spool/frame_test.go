package spool

import (
	"hash/crc32"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

// TestChecksum holds the checksum to RFC 3720, appendix B.4: 32 bytes of zeros,
// of ones, and rising.
func TestChecksum(t *testing.T) {
	rising := make([]byte, 32)
	for i := range rising {
		rising[i] = byte(i)
	}
	for _, c := range []struct {
		of   []byte
		want uint32
	}{{make([]byte, 32), 0x8a9136aa}, {slices.Repeat([]byte{0xff}, 32), 0x62a8ab43}, {rising, 0x46dd794e}} {
		if got := crc32.Checksum(c.of, castagnoli); got != c.want {
			t.Errorf("%x, want %x", got, c.want)
		}
	}
}

// TestFrames writes any batch and reads it back.
func TestFrames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := batch{came: time.UnixMilli(rapid.Int64Range(-1e14, 1e14).Draw(t, "came")).UTC()}
		for range rapid.IntRange(0, 50).Draw(t, "readings") {
			in.readings = append(in.readings, detect.Reading{Home: rapid.StringN(0, 20, 60).Draw(t, "home"), Signal: detect.Signal(rapid.IntRange(0, int(detect.NumSignals)-1).Draw(t, "signal")),
				Time: time.UnixMilli(rapid.Int64Range(-1e14, 1e14).Draw(t, "time")).UTC(), Value: rapid.Float64().Draw(t, "value")})
		}
		frame := appendFrame([]byte("before"), in)[len("before"):]
		payload, length, err := frameAt(append(frame, "behind"...))
		if err != nil || length != len(frame) {
			t.Fatal(length, err)
		}
		var out batch
		if out.came, err = decode(payload, func(r detect.Reading) { out.readings = append(out.readings, r) }); err != nil {
			t.Fatal(err)
		}
		if !out.came.Equal(in.came) || !slices.Equal(out.readings, in.readings) {
			t.Fatalf("%v, want %v", out, in)
		}
	})
}

// FuzzDecode: whatever is on the disk, it must not crash.
func FuzzDecode(f *testing.F) {
	frame := appendFrame(nil, batch{came: noon, readings: []detect.Reading{{Home: "a", Signal: detect.InletFlow, Time: noon, Value: math.Pi}}})
	f.Add(frame)
	f.Add(frame[frameHeader:])
	f.Fuzz(func(t *testing.T, data []byte) {
		_, _ = decode(data, func(detect.Reading) {})
		if at := nextFrame(data); at >= 0 {
			if _, _, err := frameAt(data[at:]); err != nil {
				t.Error("a frame was found that is none")
			}
		}
	})
}

func BenchmarkFrame(b *testing.B) {
	var in batch
	for i := range 5000 {
		in.readings = append(in.readings, detect.Reading{Home: "mill-lane-" + string(rune('a'+i%20)), Signal: detect.Signal(i % 6), Time: noon.Add(time.Duration(i/120) * 10 * time.Second), Value: float64(i) / 7})
	}
	var frame []byte
	for b.Loop() {
		frame = appendFrame(frame[:0], in)
	}
	b.ReportMetric(float64(len(frame))/5000, "bytes/reading")
	b.ReportMetric(float64(b.N)*5000/b.Elapsed().Seconds(), "readings/s")
}
