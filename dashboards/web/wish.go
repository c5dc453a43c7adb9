package web

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"brinebell/dashboards/web/texts"
	"brinebell/detect"
)

// readingView is the page on which people choose how they read.
type readingView struct {
	Title            string
	Languages, Units []option
	Back             string
}

func (readingView) template() string  { return "reading" }
func (v readingView) heading() string { return v.Title }

func (s *Server) reading(r *http.Request) (view, error) {
	a := askerOf(r.Context())
	t := a.speech()
	v := readingView{Title: t.Say("reading.title"), Back: ownPath(r.URL.Query().Get("back"))}
	for _, lang := range texts.Languages() {
		v.Languages = append(v.Languages, option{lang, s.texts.Tongue(lang).Say("language.own"), lang == t.Lang()})
	}
	for _, u := range []detect.Units{"", detect.Metric, detect.US} {
		v.Units = append(v.Units, option{string(u), t.Say("reading.units." + orElse(string(u), "home")), u == a.units})
	}
	return v, nil
}

// wished carries a cookie out of a form.
type wished struct{ cookie *http.Cookie }

func (*wished) Error() string { return "a wish is kept with the reader" }

// wishKept is how long a browser keeps a wish.
const wishKept = 365 * 24 * time.Hour

// wish keeps how the asker reads: with the person, and in a cookie for those who
// have no account.
func (s *Server) wish(r *http.Request) (string, error) {
	a := askerOf(r.Context())
	language, units := r.PostFormValue("language"), detect.Units(r.PostFormValue("units"))
	if !slices.Contains(texts.Languages(), language) || !slices.Contains([]detect.Units{"", detect.Metric, detect.US}, units) {
		return "", refuse(a.speech().Say("form.unread"), "/reading")
	}
	back := ownPath(r.PostFormValue("back"))
	if a.known && s.People != nil {
		return back, s.People.Wish(r.Context(), a.person.ID, language, units)
	}
	return back, &wished{&http.Cookie{Name: wishCookie, Value: language + "." + string(units), Path: "/", MaxAge: int(wishKept.Seconds()), // #nosec G124 -- holds how somebody reads and no secret; Secure where the connection is
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil}}
}

// ownPath is an address within these pages, the first one for anything else.
func ownPath(path string) string {
	if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\t\r\n") { // browsers leave out white space, and what is left may lead elsewhere
		return "/"
	}
	return path
}
