package access

import (
	"bytes"
	"embed"
	"html/template"
	"net/http"
)

//go:embed templates static
var files embed.FS

type pages map[string]*template.Template

func loadPages() (pages, error) {
	frame, err := template.ParseFS(files, "templates/frame.html")
	if err != nil {
		return nil, err
	}
	all := pages{}
	for _, name := range []string{"signin", "link", "forgotten", "message"} {
		t, err := frame.Clone()
		if err != nil {
			return nil, err
		}
		if all[name], err = t.ParseFS(files, "templates/"+name+".html"); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// view is what a page says. Which fields count depends on the page.
type view struct {
	Heading, Sentence string
	Trouble           string // what is wrong with what was sent
	Email, To         string
	Name              string
	Least             int
	Link, LinkText    string
	CanMail           bool
	First             bool // the first account, whose owner is yet to be named
}

// policy lets a page use the style sheets and nothing else.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// show sends a page. None is kept: each is somebody's way in.
func (g *Gate) show(w http.ResponseWriter, status int, name string, v view) {
	v.CanMail = g.Mailer != nil
	var body bytes.Buffer
	if err := g.pages[name].Execute(&body, v); err != nil {
		g.Logger.Error("page not rendered", "page", name, "error", err)
		http.Error(w, "This page could not be shown.", http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer") // the address of a link opens a door
	w.WriteHeader(status)
	_, _ = w.Write(body.Bytes()) // the reader went away: nothing left to do
}
