package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"sync/atomic"

	"brinebell/dashboards/web/texts"
)

// Server answers requests for the pages. It owns no goroutine besides those of
// its requests; Run, when it is run, is its caller's.
type Server struct {
	Options
	texts  *texts.Catalogue
	pages  pages
	static static

	kept     atomic.Pointer[board]         // while Run runs
	coming   atomic.Pointer[chan struct{}] // while Run runs: closed with its first board
	hours    hourCache
	recently recentCache
	spans    sync.Map // home id to heardAt: what its sensors sent lately

	streams chan struct{} // one token for each live page
	done    chan struct{} // closed when live pages must end
	once    sync.Once     // guards the closing of done
}

// New prepares the pages. It starts nothing.
func New(options Options) (*Server, error) {
	if err := options.complete(); err != nil {
		return nil, err
	}
	catalogue, err := texts.Standard()
	if err != nil {
		return nil, fmt.Errorf("web: texts: %w", err)
	}
	files, err := loadStatic()
	if err != nil {
		return nil, fmt.Errorf("web: static files: %w", err)
	}
	templates, err := loadPages(files, catalogue)
	if err != nil {
		return nil, fmt.Errorf("web: templates: %w", err)
	}
	return &Server{
		Options: options, texts: catalogue, pages: templates, static: files,
		streams: make(chan struct{}, options.MaxStreams),
		done:    make(chan struct{}),
	}, nil
}

// Close ends the live streams, which otherwise hold up a graceful stop of the
// HTTP server: hand it to http.Server.RegisterOnShutdown. Pages still answer.
func (s *Server) Close() {
	s.once.Do(func() { close(s.done) })
}

// Handler answers all pages, their static files and the stream of changes. What
// changes something is taken from these pages alone, not from another site's.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	for path, make := range map[string]func(*http.Request) (view, error){
		"/{$}":                              s.town,
		"/salt":                             s.saltRound,
		"/fleet":                            s.fleet,
		"/refused":                          s.refused,
		"/replay":                           s.replayPage,
		"/reading":                          s.reading,
		"/homes/{id}":                       s.home,
		"/homes/{id}/tell":                  s.tell,
		"/homes/{id}/regenerations":         s.regenerations,
		"/homes/{id}/regenerations/{start}": s.regeneration,
		"/homes/{id}/cases/{case}":          s.casePage,
		"/homes/{id}/cases/{case}/sheet":    s.sheet,
		"/":                                 func(*http.Request) (view, error) { return nil, errNoPage },
	} {
		mux.HandleFunc("GET "+path, s.page(make))
	}
	for path, take := range map[string]func(*http.Request) (string, error){
		"/reading":                     s.wish,
		"/searches":                    s.keepSearch,
		"/homes/{id}/symptoms":         s.takeSymptoms,
		"/homes/{id}/hardness":         s.takeHardness,
		"/homes/{id}/checks":           s.takeCheck,
		"/homes/{id}/away":             s.takeAway,
		"/homes/{id}/salt":             s.takeSalt,
		"/homes/{id}/cases/{case}/act": s.act,
	} {
		mux.HandleFunc("POST "+path, s.taking(take))
	}
	mux.HandleFunc("POST /replay", s.page(s.replayUpload))
	mux.HandleFunc("GET /salt.csv", s.saltCSV)
	mux.HandleFunc("GET /changes", s.changes)
	mux.HandleFunc("GET /static/{name}", s.static.serve)
	own := http.NewCrossOriginProtection()
	return guarded(own.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { mux.ServeHTTP(w, s.knowing(r)) })))
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
		if to, ok := v.(redirect); ok {
			http.Redirect(w, r, string(to), http.StatusSeeOther)
			return
		}
		s.show(w, r, status, v)
	}
}

// show lays a view out and sends it.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, v view) {
	a := askerOf(r.Context())
	var body bytes.Buffer
	if err := s.pages.render(&body, v, s.frame(r, a)); err != nil {
		s.Logger.Error("page not rendered", "path", r.URL.Path, "error", err)
		http.Error(w, a.speech().Say("trouble.unshown"), http.StatusInternalServerError)
		return
	}
	s.send(w, r, status, body.Bytes())
}

// taking takes what a form sends and goes back to the page that take names, so
// that loading it again sends nothing twice.
func (s *Server) taking(take func(*http.Request) (string, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, formBound)
		back, err := s.taken(w, r, take)
		if err != nil {
			status, v := s.trouble(r, err)
			s.show(w, r, status, v)
			return
		}
		http.Redirect(w, r, back, http.StatusSeeOther) // #nosec G710 -- a path within these pages, see ownPath
	}
}

// formBound is the largest form, bytes: some notes fit in.
const formBound = 64 << 10

func (s *Server) taken(w http.ResponseWriter, r *http.Request, take func(*http.Request) (string, error)) (string, error) {
	if err := r.ParseForm(); err != nil {
		return "", refuse(askerOf(r.Context()).speech().Say("form.unread"), "/")
	}
	back, err := take(r)
	if kept, ok := errors.AsType[*wished](err); ok {
		http.SetCookie(w, kept.cookie)
		return back, nil
	}
	return back, err
}

// send answers with the page, or only says that the reader's copy still holds.
func (s *Server) send(w http.ResponseWriter, r *http.Request, status int, body []byte) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Header().Set("Vary", "Accept-Language, Cookie")
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
