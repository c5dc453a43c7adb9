package setup

import (
	"bytes"
	"embed"
	"errors"
	"html/template"
	"log/slog"
	"net/http"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

//go:embed templates static
var files embed.FS

var (
	errNone       = errors.New("there is none")
	errNotAllowed = errors.New("not allowed")
)

// Options are the settings of a Server. API must be set.
type Options struct {
	API    http.Handler // the interface for programs
	Logger *slog.Logger // nil for none
	// Accounts says whether there are any, and so devices with passwords.
	Accounts bool
}

// Server answers requests for the pages.
type Server struct {
	Options
	pages map[string]*template.Template
}

// New prepares the pages.
func New(o Options) (*Server, error) {
	if o.API == nil {
		return nil, errors.New("setup: no interface")
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	s := &Server{Options: o, pages: map[string]*template.Template{}}
	for _, name := range []string{"homes", "home", "people", "message"} {
		t, err := template.ParseFS(files, "templates/frame.html", "templates/"+name+".html")
		if err != nil {
			return nil, err
		}
		s.pages[name] = t
	}
	return s, nil
}

// Register puts the pages into a mux.
func (s *Server) Register(mux *http.ServeMux) {
	mux.HandleFunc("GET /set-up", s.page(s.homes))
	mux.HandleFunc("POST /set-up/homes", s.page(s.addHome))
	mux.HandleFunc("POST /set-up/fleet", s.page(s.addFleet))
	mux.HandleFunc("GET /set-up/{file}", s.static)
	mux.HandleFunc("GET /set-up/people", s.page(s.people))
	mux.HandleFunc("POST /set-up/people", s.page(s.addPerson))
	mux.HandleFunc("POST /set-up/people/change", s.page(s.changePerson))
	mux.HandleFunc("GET /homes/{id}/set-up", s.page(s.home))
	mux.HandleFunc("POST /homes/{id}/set-up/profile", s.page(s.putProfile))
	mux.HandleFunc("POST /homes/{id}/set-up/devices", s.page(s.addDevice))
	mux.HandleFunc("POST /homes/{id}/set-up/remove", s.page(s.removeDevice))
}

// Rules are what the door must know of the pages.
func Rules() []access.Rule {
	return []access.Rule{
		{Pattern: "GET /homes/{id}/set-up", Action: care.SetUpHome},
		{Pattern: "POST /homes/{id}/set-up/{what}", Action: care.SetUpHome},
	}
}

func (s *Server) static(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("X-Content-Type-Options", "nosniff")
	switch name := r.PathValue("file"); name {
	case "style.css", "check.js":
		http.ServeFileFS(w, r, files, "static/"+name) // #nosec G703 -- one of two names, see the case
	default:
		http.NotFound(w, r)
	}
}

// view is what a page says; elsewhere sends the reader there instead.
type view struct {
	page, elsewhere   string
	status            int
	Heading, Sentence string
	Trouble           []string
	Homes             []home
	Home              home
	Profile           string
	Report            *report
	Devices           []device
	New               *device
	Sensors           []sensor
	Accounts          bool
	People            []person
	Firm              string // whose people they are; empty for an operator's
	Way               *way
}

// policy lets a page use its own style sheets, script and stream, and nothing
// else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// page sends what is made, or why not.
func (s *Server) page(make func(*http.Request) (view, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := make(r)
		if err != nil {
			v = s.instead(r, err)
		}
		if v.elsewhere != "" {
			http.Redirect(w, r, v.elsewhere, http.StatusSeeOther)
			return
		}
		v.Accounts = s.Accounts
		var body bytes.Buffer
		if err := s.pages[v.page].ExecuteTemplate(&body, "frame.html", v); err != nil {
			s.Logger.Error("page not rendered", "page", v.page, "error", err)
			http.Error(w, "This page could not be shown.", http.StatusInternalServerError)
			return
		}
		h := w.Header()
		h.Set("Content-Type", "text/html; charset=utf-8")
		h.Set("Cache-Control", "no-store") // it may show a password
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		w.WriteHeader(max(v.status, http.StatusOK))
		_, _ = w.Write(body.Bytes()) // the reader went away: nothing left to do
	}
}

// instead is the page for what went wrong.
func (s *Server) instead(r *http.Request, err error) view {
	v := view{page: "message"}
	var tooLarge *http.MaxBytesError
	switch {
	case errors.Is(err, errNone):
		v.status, v.Heading, v.Sentence = http.StatusNotFound, "No such home", "There is no home of that name here."
	case errors.Is(err, errNotAllowed):
		v.status, v.Heading, v.Sentence = http.StatusForbidden, "Not for this account", "Homes and people are set up by the firm that looks after them."
	case errors.As(err, &tooLarge):
		v.status, v.Heading, v.Sentence = http.StatusRequestEntityTooLarge, "Too large", "This is more than can be taken at once."
	default:
		s.Logger.Error("page failed", "path", r.URL.Path, "error", err)
		v.status, v.Heading, v.Sentence = http.StatusInternalServerError, "Not just now", "That did not work just now. Try again in a minute; if it stays so, the log says why."
	}
	return v
}
