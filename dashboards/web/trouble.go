package web

import (
	"errors"
	"net/http"
)

// The reasons for which a page is not found.
var (
	errNoPage         = errors.New("no such page")
	errNoHome         = errors.New("no such home")
	errNoRegeneration = errors.New("no such regeneration")
	errNoCase         = errors.New("no such case")
)

// troubleView is the page that says why the asked-for page is not there.
type troubleView struct {
	Title, Sentence, Next string
	Link, LinkText        string
}

func (troubleView) template() string  { return "trouble" }
func (v troubleView) heading() string { return v.Title }

// trouble is the answer to a request that failed for the reason err.
func (s *Server) trouble(r *http.Request, err error) (int, view) {
	t := askerOf(r.Context()).speech()
	say := func(key, link, text string) troubleView {
		return troubleView{Title: t.Say(key + ".title"), Sentence: t.Say(key + ".sentence"), Next: t.Say(key + ".next"), Link: link, LinkText: t.Say(text)}
	}
	if refused, ok := errors.AsType[*refusedError](err); ok {
		v := say("trouble.refused", refused.back, "trouble.back")
		v.Sentence = refused.Error()
		return refused.status, v
	}
	for _, known := range []struct {
		err             error
		key, link, text string
	}{
		{errNoHome, "trouble.home", "/", "trouble.all"},
		{errNoCase, "trouble.case", "/homes/" + r.PathValue("id"), "trouble.to_home"},
		{errNoRegeneration, "trouble.regeneration", "/homes/" + r.PathValue("id") + "/regenerations", "trouble.list"},
		{errNoPage, "trouble.page", "/", "trouble.all"},
	} {
		if errors.Is(err, known.err) {
			return http.StatusNotFound, say(known.key, known.link, known.text)
		}
	}
	s.Logger.Error("page failed", "path", r.URL.Path, "error", err)
	return http.StatusInternalServerError, say("trouble.later", "/", "trouble.all")
}

// refusedError is a wish that cannot be met, said so that a person can read it.
type refusedError struct {
	status int
	why    string
	back   string // the address to go back to
}

func (e *refusedError) Error() string { return e.why }

// refuse says why what somebody sent cannot be taken.
func refuse(why, back string) error { return &refusedError{http.StatusUnprocessableEntity, why, back} }
