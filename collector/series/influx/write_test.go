package influx_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/collector/influxtest"
	"brinebell/collector/series"
	"brinebell/collector/series/influx"
	"brinebell/detect"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func minutes(home string, n int) (out []detect.Reading) {
	for i := range n {
		out = append(out, detect.Reading{Home: home, Signal: detect.InletVolume, Time: noon.Add(time.Duration(i) * time.Minute), Value: float64(i)})
	}
	return out
}

// fakeServer answers writes as it is told and keeps the lines that it took.
type fakeServer struct {
	*httptest.Server
	mu    sync.Mutex
	lines map[string]bool
	asked int
}

// newFakeServer answers each write with the status that judge gives it; lines of
// a write that is answered with 204 are kept.
func newFakeServer(t *testing.T, judge func(lines []string) (status int, message string)) *fakeServer {
	f := &fakeServer{lines: map[string]bool{}}
	f.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		lines := strings.Split(string(body), "\n")
		f.mu.Lock()
		defer f.mu.Unlock()
		f.asked++
		status, message := judge(lines)
		if status == http.StatusNoContent {
			for _, l := range lines {
				f.lines[l] = true
			}
			w.WriteHeader(status)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		fmt.Fprintf(w, `{"code":"x","message":%q}`, message)
	}))
	t.Cleanup(f.Close)
	return f
}

// TestRefusedPointsDoNotBlock has three of a thousand points refused by the
// server: the others must all get there.
func TestRefusedPointsDoNotBlock(t *testing.T) {
	for _, status := range []int{http.StatusBadRequest, http.StatusUnprocessableEntity} {
		bad := func(line string) bool {
			return strings.Contains(line, "value=17 ") || strings.Contains(line, "value=500 ") || strings.Contains(line, "value=999 ")
		}
		f := newFakeServer(t, func(lines []string) (int, string) {
			if slices.ContainsFunc(lines, bad) {
				return status, "partial write: field type conflict"
			}
			return http.StatusNoContent, ""
		})
		s := open(t, influx.Options{URL: f.URL, Bucket: "b"})
		rejected, err := s.Append(context.Background(), minutes("a", 1000))
		if err != nil || len(rejected) != 3 {
			t.Fatalf("%d: rejected %v %v, want three", status, rejected, err)
		}
		for i, want := range []int{17, 500, 999} {
			if rejected[i].Index != want || !errors.Is(rejected[i].Err, series.ErrRefused) || !strings.Contains(rejected[i].Err.Error(), "field type conflict") {
				t.Errorf("rejected %v, want %d with the server's reason", rejected[i], want)
			}
		}
		if len(f.lines) != 997 {
			t.Errorf("%d lines arrived, want 997", len(f.lines))
		}
		_ = s.Close()
	}
}

// TestTooLargeIsHalved has a server that takes a hundred lines at a time.
func TestTooLargeIsHalved(t *testing.T) {
	f := newFakeServer(t, func(lines []string) (int, string) {
		if len(lines) > 100 {
			return http.StatusRequestEntityTooLarge, "too large"
		}
		return http.StatusNoContent, ""
	})
	s := open(t, influx.Options{URL: f.URL, Bucket: "b"})
	defer s.Close()
	if rejected, err := s.Append(context.Background(), minutes("a", 1000)); err != nil || len(rejected) > 0 || len(f.lines) != 1000 {
		t.Errorf("%v %v, %d lines arrived", rejected, err, len(f.lines))
	}
}

// TestUnavailable: nothing of this may be held against the points.
func TestUnavailable(t *testing.T) {
	for status, says := range map[int]string{
		http.StatusUnauthorized: "check the token", http.StatusForbidden: "check the token", http.StatusNotFound: "store setup",
		http.StatusTooManyRequests: "asked too much", http.StatusInternalServerError: "", http.StatusServiceUnavailable: "", http.StatusInsufficientStorage: ""} {
		f := newFakeServer(t, func([]string) (int, string) { return status, "sorry" })
		s := open(t, influx.Options{URL: f.URL, Bucket: "b"})
		_, err := s.Append(context.Background(), minutes("a", 3))
		if !errors.Is(err, series.ErrUnavailable) || !strings.Contains(err.Error(), says) || f.asked != 1 {
			t.Errorf("%d: %v after %d requests", status, err, f.asked)
		}
		if _, err := s.Read(context.Background(), "a", detect.InletVolume, noon, noon.Add(time.Hour)); !errors.Is(err, series.ErrUnavailable) {
			t.Errorf("%d: read %v", status, err)
		}
		_ = s.Close()
	}
	s := open(t, influx.Options{URL: "http://127.0.0.1:1", Bucket: "b"}) // nobody listens on port 1
	defer s.Close()
	if _, err := s.Append(context.Background(), minutes("a", 3)); !errors.Is(err, series.ErrUnavailable) {
		t.Errorf("%v", err)
	}
}

// realRefusal brings a real server to refuse some of a batch: one signal is
// there as text already.
func realRefusal(t *testing.T, server *influxtest.Server) {
	bucket := server.NewBucket(t)
	resp, err := http.Post(server.URL+"/api/v2/write?bucket="+bucket, "text/plain", strings.NewReader(fmt.Sprintf("brine_level,home=z value=\"high\" %d", noon.UnixNano())))
	if err != nil || resp.StatusCode != http.StatusNoContent {
		t.Fatal(resp, err)
	}
	_ = resp.Body.Close()
	s := open(t, influx.Options{URL: server.URL, Bucket: bucket})
	defer s.Close()
	batch := minutes("a", 20)
	batch[7].Signal = detect.BrineLevel
	rejected, err := s.Append(context.Background(), batch)
	if err != nil || len(rejected) != 1 || rejected[0].Index != 7 || !strings.Contains(rejected[0].Err.Error(), "type") {
		t.Fatalf("rejected %v %v, want reading 7", rejected, err)
	}
	points, err := s.Read(context.Background(), "a", detect.InletVolume, noon, noon.Add(time.Hour))
	if err != nil || len(points) != 19 {
		t.Errorf("%d points %v, want 19", len(points), err)
	}
}

func TestAdmit(t *testing.T) {
	s := open(t, influx.Options{URL: "http://127.0.0.1:1", Bucket: "b", Retention: 24 * time.Hour, Clock: func() time.Time { return noon }})
	defer s.Close()
	ok := minutes("a", 1)[0]
	old, tail, line, nobody, what := ok, ok, ok, ok, ok
	old.Time = noon.Add(-25 * time.Hour)
	tail.Home, line.Home, nobody.Home = `a\`, "a\nb", ""
	what.Signal = detect.NumSignals
	if err := s.Admit(ok); err != nil {
		t.Error(err)
	}
	if err := s.Admit(old); !errors.Is(err, series.ErrTooOld) {
		t.Errorf("%v, want too old", err)
	}
	for _, r := range []detect.Reading{tail, line, nobody, what} {
		if err := s.Admit(r); !errors.Is(err, series.ErrRefused) {
			t.Errorf("%q: %v, want refused", r.Home, err)
		}
	}
}

func TestOptions(t *testing.T) {
	for _, bad := range []influx.Options{{}, {URL: "localhost:8086", Bucket: "b"}, {URL: "ftp://x", Bucket: "b"}, {URL: "http://x:8086"},
		{URL: "http://x:8086", Bucket: "b", Retention: -1}} {
		if _, err := influx.Open(bad); err == nil {
			t.Errorf("%+v was opened", bad)
		}
	}
}

// TestNothingEscapesItsQuery holds strings to the language's specification ("String
// literals").
func TestNothingEscapesItsQuery(t *testing.T) {
	var asked string
	f := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		asked = string(body)
	}))
	defer f.Close()
	s := open(t, influx.Options{URL: f.URL, Bucket: "b"})
	defer s.Close()
	if _, err := s.Read(context.Background(), `a" or r.home != "`, detect.InletVolume, noon, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if want := `r.home == \"a\\\" or r.home != \\\"\"`; !strings.Contains(asked, want) {
		t.Errorf("asked %s, want %s in it", asked, want)
	}
}
