package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"brinebell/detect"
)

// askedFor measures pages in turn, rendering and source together, and reports
// the 95th percentile of one request.
func askedFor(b *testing.B, s *Server, paths ...string) {
	b.Helper()
	handler := s.Handler()
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		w, start := httptest.NewRecorder(), time.Now()
		handler.ServeHTTP(w, httptest.NewRequestWithContext(b.Context(), http.MethodGet, paths[i%len(paths)], nil))
		took = append(took, time.Since(start))
		if w.Code != http.StatusOK {
			b.Fatal(paths[i%len(paths)], w.Code)
		}
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}

func benchServer(b *testing.B, town *fakeTown) *Server {
	b.Helper()
	s, err := New(fullOptions(town))
	if err != nil {
		b.Fatal(err)
	}
	return s
}

func BenchmarkHome(b *testing.B) { askedFor(b, benchServer(b, newFakeTown()), "/homes/mill-lane-4") }

func BenchmarkCase(b *testing.B) {
	town := newFakeTown()
	askedFor(b, benchServer(b, town), caseLink("ferry-steps-2", town.alerts[2].ID))
}

// largeFirm is a firm of 10,000 homes, every tenth with an open alert.
func largeFirm() *fakeTown {
	town := newFakeTown()
	week := town.minutes["orchard-row-7"]
	for i := range 10_000 {
		h := town.homes[0]
		h.ID = fmt.Sprintf("home-%05d", i)
		h.Name = h.ID
		town.homes, town.minutes[h.ID] = append(town.homes, h), week
		if i%10 == 0 {
			a := town.alerts[i/10%len(town.alerts)]
			a.Home, a.ID = h.ID, detect.AlertID(h.ID, a.Kind, a.Onset)
			town.alerts = append(town.alerts, a)
		}
	}
	return town
}

// BenchmarkFirm asks for the pages of a firm of 10,000 homes while its board is
// kept, as it is while Run runs.
func BenchmarkFirm(b *testing.B) {
	s := benchServer(b, largeFirm())
	kept, err := s.makeBoard(b.Context(), nil)
	if err != nil {
		b.Fatal(err)
	}
	s.kept.Store(kept)
	for name, paths := range map[string][]string{
		"lists": {"/", "/?page=7", "/?q=home-00", "/?level=act", "/?cause=flapper_leak&page=2", "/?q=ferry"},
		"salt":  {"/salt", "/salt?weeks=13"}, "fleet": {"/fleet"}, "homes": {"/homes/ferry-steps-2", "/homes/mill-lane-4/regenerations", "/homes/home-00017"},
	} {
		b.Run(name, func(b *testing.B) { askedFor(b, s, paths...) })
	}
}

// BenchmarkBoard makes the board of 10,000 homes, books and all, and again with
// the books that are still fresh.
func BenchmarkBoard(b *testing.B) {
	s := benchServer(b, largeFirm())
	kept, err := s.makeBoard(b.Context(), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.makeBoard(b.Context(), nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.makeBoard(b.Context(), kept); err != nil {
				b.Fatal(err)
			}
		}
	})
}
