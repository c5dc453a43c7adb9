package regeneration

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"reflect"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// idleMinutes is a quiet home with every sensor.
func idleMinutes(n int) []series.Minute {
	start := time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC)
	out := make([]series.Minute, n)
	for i := range out {
		m := series.NewMinute(start.Add(time.Duration(i) * time.Minute))
		m.Values[detect.DrainFlow], m.Values[detect.ServiceFlow] = 0, float64(i%50)/25
		m.Values[detect.BrineLevel], m.Values[detect.ValvePower] = 200+float64(i%3), 2
		out[i] = m
	}
	return out
}

func BenchmarkIdleMinute(b *testing.B) {
	home := detect.DefaultHome("quiet", time.UTC)
	r, minutes, k := New(&home), idleMinutes(1440), 0
	b.ReportAllocs()
	for b.Loop() {
		m := &minutes[k%1440]
		m.Start = minutes[0].Start.Add(time.Duration(k+1440) * time.Minute)
		r.Step(m)
		k++
	}
}

// BenchmarkLivedMinute is the mean over a home that regenerates.
func BenchmarkLivedMinute(b *testing.B) {
	p := newPlant(1, sensors{drain: true, level: true, power: true, service: true, every: 60})
	var minutes []series.Minute
	p.run(30, func(m *series.Minute) { minutes = append(minutes, *m) })
	b.ReportAllocs()
	for b.Loop() {
		r := New(&p.home)
		for i := range minutes {
			r.Step(&minutes[i])
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(minutes)), "ns/minute")
}

func encode(t *testing.T, r *Recogniser) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := gob.NewEncoder(&out).Encode(r); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A snapshot taken at any minute and restored goes on exactly as the original.
func TestSnapshotGoesOn(t *testing.T) {
	p := newPlant(3, sensors{drain: true, level: true, power: true, service: true, every: 60})
	r := New(&p.home)
	var want, got []Record
	other, k := New(&p.home), 0
	p.run(12, func(m *series.Minute) {
		if rec := r.Step(m); rec != nil {
			want = append(want, *rec)
		}
		if k++; k%97 == 0 {
			data := encode(t, other)
			other = new(Recogniser)
			if err := gob.NewDecoder(bytes.NewReader(data)).Decode(other); err != nil {
				t.Fatal(err)
			}
			other.Attach(&p.home)
		}
		if rec := other.Step(m); rec != nil {
			got = append(got, *rec)
		}
	})
	if len(want) == 0 || fmt.Sprintf("%+v", want) != fmt.Sprintf("%+v", got) {
		t.Fatalf("restored: %+v, original: %+v", got, want)
	}
	if n := len(encode(t, r)); n > 8<<10 {
		t.Errorf("a snapshot takes %d bytes", n)
	}
	if n := int(reflect.TypeOf(*r).Size()); n > 8<<10 {
		t.Errorf("a home takes %d bytes", n)
	}
}
