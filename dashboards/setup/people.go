package setup

import (
	"net/http"
	"net/url"
	"strings"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

// person is what the interface says of one.
type person struct {
	ID       string   `json:"id"`
	Firm     string   `json:"firm"`
	Role     string   `json:"role"`
	Name     string   `json:"name"`
	Email    string   `json:"email"`
	Homes    []string `json:"homes"`
	Disabled bool     `json:"disabled"`
}

// way is a link by which a person sets a password.
type way struct {
	Sent bool
	Link string
	For  string
}

// mayPeople says whether who asks adds people.
func mayPeople(r *http.Request) bool {
	p, signed := access.From(r.Context())
	return signed && access.May(r.Context(), care.SetUpPeople, care.Place{Firm: p.Firm})
}

func (s *Server) people(r *http.Request) (view, error) {
	v := view{page: "people", Heading: "People"}
	if !mayPeople(r) {
		return v, errNotAllowed
	}
	p, _ := access.From(r.Context())
	v.Firm = p.Firm
	for after := ""; ; {
		var page struct {
			Items []person
			Next  string
		}
		if _, err := s.ask(r, http.MethodGet, "/people?limit=200&after="+url.QueryEscape(after), "", nil, &page); err != nil {
			return v, err
		}
		v.People = append(v.People, page.Items...)
		if after = page.Next; after == "" {
			return v, nil
		}
	}
}

// peopleWith is the page of people with what came of the last.
func (s *Server) peopleWith(r *http.Request, problem []string, w *way) (view, error) {
	v, err := s.people(r)
	v.Trouble, v.Way = problem, w
	if problem != nil {
		v.status = http.StatusUnprocessableEntity
	}
	return v, err
}

func (s *Server) addPerson(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	asker, _ := access.From(r.Context())
	firm := orElse(asker.Firm, strings.TrimSpace(r.PostFormValue("firm")))
	var made person
	body := asJSON(map[string]any{"firm": firm, "role": r.PostFormValue("role"), "name": r.PostFormValue("name"), "email": strings.TrimSpace(r.PostFormValue("email")),
		"homes": strings.Fields(r.PostFormValue("homes"))})
	problem, err := s.ask(r, http.MethodPost, "/people", "application/json", body, &made)
	if err != nil {
		return view{}, err
	}
	if problem != nil {
		return s.peopleWith(r, problem, nil)
	}
	return s.sendWay(r, made.ID, made.Name)
}

// sendWay has a link sent, or shows it where there is no mail.
func (s *Server) sendWay(r *http.Request, id, name string) (view, error) {
	w := &way{For: name}
	problem, err := s.ask(r, http.MethodPost, "/people/"+url.PathEscape(id)+"/link", "application/json", nil, w)
	if err != nil {
		return view{}, err
	}
	if problem != nil {
		w = nil
	}
	return s.peopleWith(r, problem, w)
}

// changePerson sends another link, or keeps a person out or lets them in again.
func (s *Server) changePerson(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	id := r.PostFormValue("person")
	var p map[string]any
	if _, err := s.ask(r, http.MethodGet, "/people/"+url.PathEscape(id), "", nil, &p); err != nil {
		return view{}, err
	}
	if r.PostFormValue("do") == "link" {
		name, _ := p["name"].(string)
		return s.sendWay(r, id, name)
	}
	disabled, _ := p["disabled"].(bool)
	delete(p, "id")
	p["disabled"] = !disabled
	problem, err := s.ask(r, http.MethodPut, "/people/"+url.PathEscape(id), "application/json", asJSON(p), nil)
	if err != nil {
		return view{}, err
	}
	return s.peopleWith(r, problem, nil)
}
