package web

import (
	"bytes"
	"embed"
	"net/http"
	"path"
	"time"
)

//go:embed static
var staticFiles embed.FS

// asset is one static file, held whole.
type asset struct {
	body []byte
	tag  string
}

// static is the static files by name.
type static map[string]asset

func loadStatic() (static, error) {
	entries, err := staticFiles.ReadDir("static")
	if err != nil {
		return nil, err
	}
	files := make(static, len(entries))
	for _, e := range entries {
		body, err := staticFiles.ReadFile(path.Join("static", e.Name()))
		if err != nil {
			return nil, err
		}
		files[e.Name()] = asset{body, etag(body)}
	}
	return files, nil
}

// address is where a page finds the file. It changes with the content, so the
// reader may keep each version for good.
func (f static) address(name string) string {
	tag := f[name].tag
	return "/static/" + name + "?v=" + tag[1:len(tag)-1]
}

func (f static) serve(w http.ResponseWriter, r *http.Request) {
	file, ok := f[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("ETag", file.tag)
	w.Header().Set("Cache-Control", "no-cache")
	if `"`+r.URL.Query().Get("v")+`"` == file.tag {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeContent(w, r, r.PathValue("name"), time.Time{}, bytes.NewReader(file.body))
}
