package web

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"net/http"

	"brinebell/dashboards/web/texts"
	"brinebell/detect/care"
)

//go:embed templates
var templateFiles embed.FS

// view is what one page says; its template is named by it.
type view interface {
	template() string // file name without its ending
	heading() string  // of the browser's tab
}

// redirect is a view that is to be found at another address.
type redirect string

func (redirect) template() string { return "" }
func (redirect) heading() string  { return "" }

// pages is each page's template with the frame around it, by language and name.
type pages map[string]map[string]*template.Template

var pageNames = [...]string{"town", "home", "tell", "case", "sheet", "salt", "fleet", "refused", "replay", "reading", "regenerations", "regeneration", "trouble"}

func loadPages(files static, catalogue *texts.Catalogue) (pages, error) {
	all := make(pages)
	for _, lang := range texts.Languages() {
		all[lang] = make(map[string]*template.Template, len(pageNames))
		frame, err := template.New("frame.html").
			Funcs(template.FuncMap{"static": files.address, "t": catalogue.Tongue(lang).Say}).
			ParseFS(templateFiles, "templates/frame.html", "templates/parts.html")
		if err != nil {
			return nil, err
		}
		for _, name := range pageNames {
			t, err := frame.Clone()
			if err != nil {
				return nil, err
			}
			if all[lang][name], err = t.ParseFS(templateFiles, "templates/"+name+".html"); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}

// framed is a view with what the frame says around it.
type framed struct {
	Lang, Town, Heading string
	Places              []place
	Who                 string
	Page                view
}

// place is where the frame's navigation leads.
type place struct {
	Link, Name string
	Here       bool
}

// frame is what stands around a page for the asker.
func (s *Server) frame(r *http.Request, a asker) framed {
	t := a.speech()
	f := framed{Lang: t.Lang(), Town: s.Title, Who: a.person.Name}
	for _, p := range []struct {
		link, key string
		shown     bool
	}{
		{"/", "place.homes", true},
		{"/salt", "place.salt", !a.household()},
		{"/fleet", "place.fleet", !a.household()},
		{"/refused", "place.refused", s.Refused != nil && s.runs(a)},
		{"/replay", "place.replay", s.Replayer != nil && !a.household()},
		{setUpPath, "place.setup", s.setsUp(a, care.SetUpHome)},
		{setUpPath + "/people", "place.people", s.Viewer != nil && s.setsUp(a, care.SetUpPeople)},
		{"/reading", "place.reading", true},
	} {
		if p.shown {
			f.Places = append(f.Places, place{p.link, t.Say(p.key), r.URL.Path == p.link})
		}
	}
	return f
}

func (p pages) render(w io.Writer, v view, f framed) error {
	t, ok := p[f.Lang][v.template()]
	if !ok {
		return fmt.Errorf("no template %q in %q", v.template(), f.Lang)
	}
	f.Heading, f.Page = v.heading(), v
	return t.Execute(w, f)
}
