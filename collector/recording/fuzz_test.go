package recording

import (
	"bytes"
	"errors"
	"io"
	"testing"
)

// FuzzReader feeds the reader any file. Whatever it gives as a reading must be
// one, and must come back the same when written and read again.
func FuzzReader(f *testing.F) {
	const header = "time,home,signal,value\n"
	for _, seed := range []string{
		"", header, header + "1772362800.250,h,inlet_flow,1\n",
		header + "2026-03-01T12:00:00.25+01:00,h-1,brine_level,-1e-3\r\n\"1\",\"h\",\"battery\",\"5\"",
		header + "2026-02-29T12:00:00Z,h,inlet_flow,1\n,,,\n,,\n2026-03-01t12:00:00z,h,floor_wet,1",
		"[{\"n\":\"h/d/inlet_flow\",\"u\":\"l/s\",\"t\":1772362800,\"v\":1}]\n[]\n[",
		"\xef\xbb\xbf" + header, "\x1f\x8b\x08",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := NewReader("fuzz", bytes.NewReader(data), Options{MaxLine: 4096})
		if err != nil {
			return
		}
		var again bytes.Buffer
		w, err := NewWriter(&again)
		if err != nil {
			t.Fatal(err)
		}
		var want int
		for {
			reading, err := r.Next()
			if err != nil {
				break
			}
			want++
			if err := reading.Check(); err != nil {
				t.Fatalf("%v: %v", reading, err)
			}
			reading.Home = cleanHome(reading.Home)
			if err := w.Write(reading); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if got := countStrict(t, &again); got != want {
			t.Fatalf("%d readings came back of %d", got, want)
		}
	})
}

// cleanHome stands in for a home id of the SenML form, which may be of any
// characters until it is looked up.
func cleanHome(id string) string {
	if validHome([]byte(id)) {
		return id
	}
	return "other"
}

func countStrict(t *testing.T, src io.Reader) (n int) {
	r, err := NewReader("again", src, Options{Strict: true})
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := r.Next(); errors.Is(err, io.EOF) {
			return n
		} else if err != nil {
			t.Fatal(err)
		}
		n++
	}
}
