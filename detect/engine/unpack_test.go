package engine

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"brinebell/detect"
)

// lived is an engine of a home that has measured for some days.
func lived(id string, days int, wet bool) *Engine {
	e := New([]detect.Home{homeOf(id)}, Options{})
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for minute := range days * 24 * 60 {
		t := at.Add(time.Duration(minute) * time.Minute)
		e.Observe(detect.Reading{Home: id, Signal: detect.InletVolume, Time: t, Value: float64(minute / 7)})
		drain := 0.0
		if wet && minute > 600 {
			drain = 1.5
		}
		e.Observe(detect.Reading{Home: id, Signal: detect.DrainFlow, Time: t, Value: drain})
	}
	return e
}

func homeOf(id string) detect.Home {
	h := detect.DefaultHome(id, time.UTC)
	h.Meters = detect.Meters{Inlet: &detect.Meter{Pulse: 0.1}, Drain: &detect.Meter{Pulse: 0.1}}
	return h
}

// TestUnpackerReadsWhatRestoreReads gives an unpacker snapshots of different
// homes, damaged ones between them, and compares what comes out.
func TestUnpackerReadsWhatRestoreReads(t *testing.T) {
	u := NewUnpacker()
	for i, e := range []*Engine{lived("a", 1, false), lived("b", 2, true), lived("c", 0, false), lived("d", 2, true)} {
		id := string(rune('a' + i))
		want, err := e.Snapshot(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, bad := range [][]byte{nil, want[:len(want)/2], want[:len(want)-1], []byte("of another version")} {
			if New([]detect.Home{homeOf(id)}, Options{}).RestoreBy(u, id, bad) == nil {
				t.Errorf("%s: %d bytes of %d are taken", id, len(bad), len(want))
			}
		}
		for range 2 {
			again := New([]detect.Home{homeOf(id)}, Options{})
			if err := again.RestoreBy(u, id, want); err != nil {
				t.Fatal(err)
			}
			plain := New([]detect.Home{homeOf(id)}, Options{})
			if err := plain.Restore(id, want); err != nil {
				t.Fatal(err)
			}
			if a, b := fmt.Sprintf("%+v", again.homes[id].state.Open), fmt.Sprintf("%+v", plain.homes[id].state.Open); a != b {
				t.Errorf("%s: open alerts %s, want %s", id, a, b)
			}
			if a, b := mustSnapshot(t, again, id), mustSnapshot(t, plain, id); len(a) != len(b) {
				t.Errorf("%s: %d bytes come back, want %d", id, len(a), len(b))
			}
		}
	}
	if err := New([]detect.Home{homeOf("a")}, Options{}).RestoreBy(u, "nobody", nil); err == nil {
		t.Error("an unknown home is restored")
	}
}

func mustSnapshot(t *testing.T, e *Engine, id string) []byte {
	t.Helper()
	b, err := e.Snapshot(id)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestGobUint holds the numbers to the examples of package encoding/gob's
// document: 7 is 07, 256 is FE 01 00.
func TestGobUint(t *testing.T) {
	for _, c := range []struct {
		bytes []byte
		want  uint64
		n     int
	}{{[]byte{7}, 7, 1}, {[]byte{0xFE, 1, 0}, 256, 3}, {[]byte{0xFE, 1}, 0, 0}, {nil, 0, 0}, {bytes.Repeat([]byte{0x80}, 200), 0, 0}} {
		if v, n := gobUint(c.bytes); v != c.want || n != c.n {
			t.Errorf("% x: %d of %d bytes, want %d of %d", c.bytes, v, n, c.want, c.n)
		}
	}
}

func FuzzUnpacker(f *testing.F) {
	e := lived("a", 1, true)
	b, err := e.Snapshot("a")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add(b[:100])
	f.Fuzz(func(t *testing.T, snapshot []byte) {
		_ = New([]detect.Home{homeOf("a")}, Options{}).RestoreBy(NewUnpacker(), "a", snapshot) // it must not panic
	})
}

func BenchmarkRestore(b *testing.B) {
	e := lived("a", 14, true)
	snapshot, err := e.Snapshot("a")
	if err != nil {
		b.Fatal(err)
	}
	b.Run("each", func(b *testing.B) {
		for b.Loop() {
			if err := New([]detect.Home{homeOf("a")}, Options{}).Restore("a", snapshot); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("one unpacker", func(b *testing.B) {
		u := NewUnpacker()
		for b.Loop() {
			if err := New([]detect.Home{homeOf("a")}, Options{}).RestoreBy(u, "a", snapshot); err != nil {
				b.Fatal(err)
			}
		}
	})
}
