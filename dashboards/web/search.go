package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"brinebell/detect"
)

// Search is a search that somebody keeps.
type Search struct {
	Name  string
	Query string // as in the address, without the question mark
}

// Searches keeps searches, for each person by themselves; the empty person
// stands for everybody where there are no accounts.
type Searches interface {
	Searches(ctx context.Context, person string) ([]Search, error)
	SaveSearch(ctx context.Context, person string, s Search) error
	ForgetSearch(ctx context.Context, person, name string) error
}

// choice is which homes a page of many shows.
type choice struct {
	Words string       // looked for in name, id and area
	Level string       // a level's class; empty for all
	Area  string       // empty for all
	Cause detect.Cause // the likeliest; empty for all
	Page  int
}

func choiceOf(q url.Values) choice {
	c := choice{Words: strings.TrimSpace(q.Get("q")), Level: q.Get("level"), Area: q.Get("area"), Cause: detect.Cause(q.Get("cause"))}
	c.Page, _ = strconv.Atoi(q.Get("page"))
	return c
}

// Any says whether it leaves anything out.
func (c choice) Any() bool {
	return c.Words != "" || c.Level != "" || c.Area != "" || c.Cause != ""
}

// query is the choice as the query of an address, without its page.
func (c choice) query() string {
	q := url.Values{}
	for _, p := range [][2]string{{"q", c.Words}, {"level", c.Level}, {"area", c.Area}, {"cause", string(c.Cause)}} {
		if p[1] != "" {
			q.Set(p[0], p[1])
		}
	}
	return q.Encode()
}

// on is the address of one page of the choice.
func (c choice) on(page int) string {
	q, _ := url.ParseQuery(c.query())
	if page > 1 {
		q.Set("page", strconv.Itoa(page))
	}
	if len(q) == 0 {
		return "/"
	}
	return "/?" + q.Encode()
}

// at is the address of the choice with another level.
func (c choice) at(class string) string {
	c.Level = class
	return c.on(1)
}

// take keeps the homes that the choice asks for.
func (c choice) take(homes []*standing) []*standing {
	if !c.Any() {
		return homes
	}
	words := strings.Fields(strings.ToLower(c.Words))
	return slices.DeleteFunc(slices.Clone(homes), func(h *standing) bool { return !c.wants(h, words) })
}

func (c choice) wants(h *standing, words []string) bool {
	if c.Level != "" && h.cond.Level.Class() != c.Level || c.Area != "" && h.area != c.Area {
		return false
	}
	if c.Cause != "" && h.likeliest.Cause != c.Cause {
		return false
	}
	for _, w := range words {
		if !strings.Contains(h.find, w) {
			return false
		}
	}
	return true
}

// The bounds of a kept search, so that nobody fills the store.
const (
	searchName  = 40
	searchQuery = 400
)

// keepSearch keeps the search that the form tells, or forgets one.
func (s *Server) keepSearch(r *http.Request) (string, error) {
	a := askerOf(r.Context())
	name, query := strings.TrimSpace(r.PostFormValue("name")), r.PostFormValue("query")
	if s.Searches == nil || s.Viewer != nil && !a.known {
		return "", errNoPage
	}
	back := "/"
	if parsed, err := url.ParseQuery(query); err == nil {
		back = choiceOf(parsed).on(1)
	}
	switch {
	case r.PostFormValue("forget") != "":
		return "/", s.Searches.ForgetSearch(r.Context(), a.by(), r.PostFormValue("forget"))
	case name == "" || len(name) > searchName || len(query) > searchQuery:
		return "", refuse(a.speech().Say("search.name_wrong", "n", searchName), back)
	}
	q, err := url.ParseQuery(query)
	if err != nil {
		return "", refuse(a.speech().Say("form.unread"), "/")
	}
	return back, s.Searches.SaveSearch(r.Context(), a.by(), Search{Name: name, Query: choiceOf(q).query()})
}
