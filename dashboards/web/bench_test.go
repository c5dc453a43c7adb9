package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"brinebell/detect"
)

// askedFor measures one page, rendering and source together.
func askedFor(b *testing.B, source Source, path string) {
	s, err := New(Options{Source: source})
	if err != nil {
		b.Fatal(err)
	}
	handler := s.Handler()
	for b.Loop() {
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, httptest.NewRequestWithContext(b.Context(), http.MethodGet, path, nil))
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}

func BenchmarkHome(b *testing.B) { askedFor(b, newFakeTown(), "/homes/mill-lane-4") }

// BenchmarkTown is a firm of 10,000 homes, every tenth with an open alert.
func BenchmarkTown(b *testing.B) {
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
	askedFor(b, town, "/")
}
