package web

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

func newServer(t *testing.T, source Source) *Server {
	t.Helper()
	s, err := New(Options{Source: source, Title: "Saltmarsh", CauseText: fakeCause})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func get(t *testing.T, s *Server, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil))
	return w
}
