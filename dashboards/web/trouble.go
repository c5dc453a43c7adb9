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
	v := troubleView{Link: "/", LinkText: "See all homes"}
	switch {
	case errors.Is(err, errNoHome):
		v.Title, v.Sentence = "No such home", "There is no home of that name here."
		v.Next = "It may have been renamed in the homes file, or the address may be mistyped."
	case errors.Is(err, errNoRegeneration):
		v.Title, v.Sentence = "No such regeneration", "No regeneration of this home began at that time."
		v.Next = "Late readings can move its start by a little. The list has the present one."
		v.Link, v.LinkText = "/homes/"+r.PathValue("id")+"/regenerations", "See the regenerations"
	case errors.Is(err, errNoPage):
		v.Title, v.Sentence = "No such page", "There is no page at this address."
		v.Next = "The address may be mistyped."
	default:
		s.Logger.Error("page failed", "path", r.URL.Path, "error", err)
		v.Title, v.Sentence = "Not just now", "The readings could not be read just now."
		v.Next = "Nothing is lost: watching goes on. Try again in a minute; if it stays so, the log says why."
		return http.StatusInternalServerError, v
	}
	return http.StatusNotFound, v
}
