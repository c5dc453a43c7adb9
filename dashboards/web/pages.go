package web

import (
	"embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed templates
var templateFiles embed.FS

// view is what one page says; its template is named by it.
type view interface {
	template() string // file name without its ending
	heading() string  // of the browser's tab
}

// pages is each page's template with the frame around it.
type pages map[string]*template.Template

var pageNames = [...]string{"town", "home", "regenerations", "regeneration", "trouble"}

func loadPages(files static) (pages, error) {
	frame, err := template.New("frame.html").
		Funcs(template.FuncMap{"static": files.address}).
		ParseFS(templateFiles, "templates/frame.html", "templates/parts.html")
	if err != nil {
		return nil, err
	}
	all := make(pages, len(pageNames))
	for _, name := range pageNames {
		t, err := frame.Clone()
		if err != nil {
			return nil, err
		}
		if all[name], err = t.ParseFS(templateFiles, "templates/"+name+".html"); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// framed is a view with what the frame says around it.
type framed struct {
	Town, Heading string
	Page          view
}

func (p pages) render(w io.Writer, v view, town string) error {
	t, ok := p[v.template()]
	if !ok {
		return fmt.Errorf("no template %q", v.template())
	}
	return t.Execute(w, framed{town, v.heading(), v})
}
