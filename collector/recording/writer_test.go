package recording

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"brinebell/detect"
)

// sample is n readings of a few homes, with values of every size.
func sample(n int) []detect.Reading {
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	var out []detect.Reading
	for i := range n {
		out = append(out, detect.Reading{
			Home: fmt.Sprintf("home-%d", i%7), Signal: detect.Signal(i % int(detect.NumSignals)),
			Time: start.Add(time.Duration(i) * 1237 * time.Millisecond), Value: float64(i) / 8})
	}
	return out
}

func writeFile(t testing.TB, path string, readings []detect.Reading) {
	t.Helper()
	w, err := Create(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range readings {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestSenMLForm(t *testing.T) {
	readings := sample(1000)
	for i := range readings {
		readings[i].Home = fmt.Sprintf("home-%d", i/150) // packs end at their size and at the next home
		if readings[i].Signal == detect.FloorWet {
			readings[i].Value = float64(i % 2)
		}
	}
	for _, name := range []string{"a.senml", "a.jsonl.gz"} {
		path := filepath.Join(t.TempDir(), name)
		writeFile(t, path, readings)
		r, err := Open(path, Options{Strict: true})
		if err != nil {
			t.Fatal(err)
		}
		got, err := readAll(t, r)
		if err != nil {
			t.Fatal(err)
		}
		for i := range got {
			if math.Abs(got[i].Value-readings[i].Value) < 1e-12*readings[i].Value { // L/min are not decimal in m3/s
				got[i].Value = readings[i].Value
			}
		}
		expect(t, got, readings)
		if r.Line() < 13 || r.Close() != nil {
			t.Errorf("%d lines", r.Line())
		}
	}
}

func TestWhatIsWrittenReadsBackTheSame(t *testing.T) {
	readings := sample(1000)
	for i, v := range []float64{0, 1e-9, 5e-324, -1.0 / 3, 1e15, 123456789.125, 1.7976931348623157e308, 0.1 + 0.2} {
		readings[i].Value = v
	}
	for _, name := range []string{"a.csv", "a.csv.gz"} {
		path := filepath.Join(t.TempDir(), name)
		writeFile(t, path, readings)
		r, err := Open(path, Options{Strict: true})
		if err != nil {
			t.Fatal(err)
		}
		got, err := readAll(t, r)
		if err != nil {
			t.Fatal(err)
		}
		expect(t, got, readings)
		if r.Size() == 0 || r.BytesRead() != r.Size() {
			t.Errorf("%s: read %d of %d bytes", name, r.BytesRead(), r.Size())
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
}
