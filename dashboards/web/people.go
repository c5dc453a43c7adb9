package web

import (
	"context"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// People knows who looks after which home, and what people wish. Without it
// there are no accounts: everybody sees everything and acts as nobody in
// particular.
type People interface {
	// Place is the firm that looks after a home, and the area it lies in for
	// the salt round; both may be empty.
	Place(home string) (firm, area string)
	// Name is what a person is called; empty for nobody known.
	Name(ctx context.Context, id string) string
	// Wish keeps the language and the units that a person reads.
	Wish(ctx context.Context, id, language string, units detect.Units) error
}

// Told takes what a household says of its home beyond what it notices. What is
// nil cannot be told.
type Told struct {
	// Away says that nobody is at home from the start of a local day to the start
	// of another.
	Away func(ctx context.Context, by care.Person, home string, from, to time.Time) error
	// Salt says that so many kg were filled in.
	Salt func(ctx context.Context, by care.Person, home string, at time.Time, kg float64) error
}

// may says whether the asker may do something at a home.
func (s *Server) may(a asker, action care.Action, home string) bool {
	if s.Viewer == nil {
		return true
	}
	return a.known && a.person.May(action, s.place(home))
}

// place is a home with its firm.
func (s *Server) place(home string) care.Place {
	if s.People == nil {
		return care.Place{Home: home}
	}
	firm, _ := s.People.Place(home)
	return care.Place{Home: home, Firm: firm}
}

// runs says whether the asker sees to the installation itself.
func (s *Server) runs(a asker) bool {
	return s.Viewer == nil || a.known && a.person.May(care.SeeService, care.Place{})
}

// setUpPath is where homes are set up.
const setUpPath = "/set-up"

// setsUp says whether there are pages on which the asker may set something up,
// at any home or in any firm.
func (s *Server) setsUp(a asker, what care.Action) bool {
	return s.SetUp && (s.Viewer == nil || a.known && a.person.Role.Reach(what) != care.Nowhere)
}

// household says whether the asker is one, and not of a firm.
func (a asker) household() bool { return a.known && a.person.Role == care.Household }

// find is the home's profile, if the asker may see its life. To anyone else it
// looks like one that does not exist.
func (s *Server) find(ctx context.Context, id string) (detect.Home, error) {
	h, ok := s.homeByID(id)
	if !ok || !s.may(askerOf(ctx), care.SeeLife, id) {
		return detect.Home{}, errNoHome
	}
	return h, nil
}

// name is what the person of an id is called on a page.
func (s *Server) name(ctx context.Context, read reader, id string) string {
	a := askerOf(ctx)
	switch {
	case id == "":
		return ""
	case id == a.person.ID:
		return read.Say("who.you")
	case s.People != nil:
		if name := s.People.Name(ctx, id); name != "" {
			return name
		}
	}
	return read.Say("who.somebody")
}

// sees is may for a home on the board, whose firm is known already.
func (a asker) sees(h *standing) bool {
	return a.person.May(care.SeeLife, care.Place{Home: h.home.ID, Firm: h.firm})
}
