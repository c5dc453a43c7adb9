package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"sync"
)

// Server answers requests for the pages. It owns no goroutine besides those of
// its requests.
type Server struct {
	Options
	pages  pages
	static static

	streams chan struct{} // one token for each live page
	done    chan struct{} // closed when live pages must end
	once    sync.Once     // guards the closing of done
}

// New prepares the pages. It starts nothing.
func New(options Options) (*Server, error) {
	if err := options.complete(); err != nil {
		return nil, err
	}
	files, err := loadStatic()
	if err != nil {
		return nil, fmt.Errorf("web: static files: %w", err)
	}
	templates, err := loadPages(files)
	if err != nil {
		return nil, fmt.Errorf("web: templates: %w", err)
	}
	return &Server{
		Options: options, pages: templates, static: files,
		streams: make(chan struct{}, options.MaxStreams),
		done:    make(chan struct{}),
	}, nil
}

// Close ends the live streams, which otherwise hold up a graceful stop of the
// HTTP server: hand it to http.Server.RegisterOnShutdown. Pages still answer.
func (s *Server) Close() {
	s.once.Do(func() { close(s.done) })
}

// Handler answers all pages, their static files and the stream of changes.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page(s.town))
	mux.HandleFunc("GET /homes/{id}", s.page(s.home))
	mux.HandleFunc("GET /homes/{id}/regenerations", s.page(s.regenerations))
	mux.HandleFunc("GET /homes/{id}/regenerations/{start}", s.page(s.regeneration))
	mux.HandleFunc("GET /changes", s.changes)
	mux.HandleFunc("GET /static/{name}", s.static.serve)
	mux.HandleFunc("GET /", s.page(func(*http.Request) (view, error) { return nil, errNoPage }))
	return guarded(mux)
}

// page turns a view into a whole response, or the reason why there is none into
// a page that says so. Details of a failure go to the log, never to the reader.
func (s *Server) page(make func(*http.Request) (view, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := make(r)
		status := http.StatusOK
		if err != nil {
			status, v = s.trouble(r, err)
		}
		var body bytes.Buffer
		if err := s.pages.render(&body, v, s.Title); err != nil {
			s.Logger.Error("page not rendered", "path", r.URL.Path, "error", err)
			http.Error(w, "This page could not be shown.", http.StatusInternalServerError)
			return
		}
		s.send(w, r, status, body.Bytes())
	}
}

// send answers with the page, or only says that the reader's copy still holds.
func (s *Server) send(w http.ResponseWriter, r *http.Request, status int, body []byte) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "private, no-cache")
	if status == http.StatusOK {
		tag := etag(body)
		w.Header().Set("ETag", tag)
		if r.Header.Get("If-None-Match") == tag {
			w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	w.WriteHeader(status)
	_, _ = w.Write(body) // the reader went away: nothing left to do
}

func etag(body []byte) string {
	sum := sha256.Sum256(body)
	return `"` + hex.EncodeToString(sum[:12]) + `"`
}
