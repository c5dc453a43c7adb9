package setup

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

// maxTable is the largest table of a fleet, in bytes.
const maxTable = 16 << 20

// example is the profile that the form begins with.
const example = `id: mill-lane-4
name: 4 Mill Lane
timezone: Europe/Dublin
units: metric
occupants: 3
water: {hardness: 300 mg/L}
softener: {resin: 28.3 L, salt_dose: 2.7 kg}
meters:
  inlet: {pulse: 1 L}
`

// mayAny says whether who asks sets up homes at all.
func mayAny(r *http.Request) bool {
	p, signed := access.From(r.Context())
	return !signed || access.May(r.Context(), care.SetUpHome, care.Place{Firm: p.Firm})
}

func (s *Server) homes(r *http.Request) (view, error) {
	v := view{page: "homes", Heading: "Set up homes", Profile: example}
	if !mayAny(r) {
		return v, errNotAllowed
	}
	for after := ""; ; {
		var page struct {
			Items []home
			Next  string
		}
		if _, err := s.ask(r, http.MethodGet, "/homes?limit=200&after="+url.QueryEscape(after), "", nil, &page); err != nil {
			return v, err
		}
		v.Homes = append(v.Homes, page.Items...)
		if after = page.Next; after == "" {
			return v, nil
		}
	}
}

func (s *Server) addHome(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	profile := r.PostFormValue("profile")
	var made home
	problem, err := s.ask(r, http.MethodPost, "/homes", "application/json", asJSON(map[string]string{"profile": profile, "area": r.PostFormValue("area")}), &made)
	if err != nil {
		return view{}, err
	}
	if problem == nil {
		return view{elsewhere: "/homes/" + url.PathEscape(made.ID) + "/set-up"}, nil
	}
	v, err := s.homes(r)
	v.Profile, v.Trouble, v.status = profile, problem, http.StatusUnprocessableEntity
	return v, err
}

func (s *Server) addFleet(r *http.Request) (view, error) {
	if !mayAny(r) {
		return view{}, errNotAllowed
	}
	r.Body = http.MaxBytesReader(nil, r.Body, maxTable)
	if err := r.ParseMultipartForm(1 << 20); err != nil { // #nosec G120 -- bounded by MaxBytesReader above
		return view{}, err
	}
	defer func() { _ = r.MultipartForm.RemoveAll() }() // what is left is temporary
	f, _, err := r.FormFile("table")
	if err != nil {
		v, err := s.homes(r)
		v.Trouble, v.status = []string{"Choose a table first."}, http.StatusUnprocessableEntity
		return v, err
	}
	defer f.Close()
	table, err := io.ReadAll(f)
	if err != nil {
		return view{}, err
	}
	done := &report{}
	problem, err := s.ask(r, http.MethodPost, fmt.Sprintf("/homes/import?dry_run=%v", r.PostFormValue("do") == ""), "text/csv", table, done)
	if err != nil {
		return view{}, err
	}
	v, err := s.homes(r)
	v.Trouble = problem
	if problem == nil {
		v.Report = done
	}
	return v, err
}

// path is a home's in the interface.
func path(r *http.Request) string { return "/homes/" + url.PathEscape(r.PathValue("id")) }

func (s *Server) home(r *http.Request) (view, error) {
	v := view{page: "home"}
	if _, err := s.ask(r, http.MethodGet, path(r), "", nil, &v.Home); err != nil {
		return v, err
	}
	v.Heading = "Set up " + v.Home.Name
	var profile struct{ Profile string }
	if _, err := s.ask(r, http.MethodGet, path(r)+"/profile", "", nil, &profile); err != nil {
		return v, err
	}
	v.Profile = profile.Profile
	if s.Accounts {
		var page struct{ Items []device }
		if _, err := s.ask(r, http.MethodGet, path(r)+"/devices?limit=200", "", nil, &page); err != nil {
			return v, err
		}
		v.Devices = page.Items
	}
	var heard struct{ Signals []sensor }
	// An operator sets up without seeing readings; the check shows what is needed.
	if _, err := s.ask(r, http.MethodGet, path(r)+"/signals", "", nil, &heard); err != nil && err != errNotAllowed {
		return v, err
	}
	v.Sensors = heard.Signals
	return v, nil
}

// again is the home's page with what could not be taken.
func (s *Server) again(r *http.Request, problem []string, change func(*view)) (view, error) {
	v, err := s.home(r)
	if problem != nil {
		v.Trouble, v.status = problem, http.StatusUnprocessableEntity
	}
	change(&v)
	return v, err
}

func (s *Server) back(r *http.Request) view {
	return view{elsewhere: "/homes/" + url.PathEscape(r.PathValue("id")) + "/set-up"}
}

func (s *Server) putProfile(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	profile := r.PostFormValue("profile")
	problem, err := s.ask(r, http.MethodPut, path(r)+"/profile", "application/json", asJSON(map[string]string{"profile": profile}), nil)
	if err != nil || problem == nil {
		return s.back(r), err
	}
	return s.again(r, problem, func(v *view) { v.Profile = profile })
}

func (s *Server) addDevice(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	made := &device{}
	problem, err := s.ask(r, http.MethodPost, path(r)+"/devices", "application/json", asJSON(map[string]any{"id": r.PostFormValue("device"), "name": orElse(r.PostFormValue("name"), r.PostFormValue("device")),
		"topics": strings.Fields(r.PostFormValue("topics")), "certificate": r.PostFormValue("certificate") != ""}), made)
	if err != nil {
		return view{}, err
	}
	return s.again(r, problem, func(v *view) {
		if problem == nil {
			v.New = made
		}
	})
}

func (s *Server) removeDevice(r *http.Request) (view, error) {
	if err := r.ParseForm(); err != nil {
		return view{}, err
	}
	_, err := s.ask(r, http.MethodDelete, path(r)+"/devices/"+url.PathEscape(r.PostFormValue("device")), "", nil, nil)
	return s.back(r), err
}

func orElse(a, b string) string {
	if strings.TrimSpace(a) != "" {
		return a
	}
	return b
}
