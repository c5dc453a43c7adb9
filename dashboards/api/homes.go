package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect"
	"brinebell/detect/care"
)

// homeView is a home as it is listed.
type homeView struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Timezone string `json:"timezone"`
	Units    string `json:"units" enum:"metric,us"`
	Firm     string `json:"firm" doc:"who looks after it; empty when nobody does yet"`
	Area     string `json:"area"`
	Away     []day2 `json:"away" nullable:"false" doc:"days on Which nobody is at home"`
}

// day2 is a span of local days.
type day2 struct {
	From string `json:"from" format:"date"`
	To   string `json:"to" format:"date" doc:"the last day"`
}

// HomePath names a home. An id with other characters than these is none.
type HomePath struct {
	Home string `path:"home" maxLength:"100" doc:"id of the home"`
}

type homeBody struct{ Body homeView }

type ProfileView struct {
	Profile string `json:"profile" maxLength:"65536" doc:"the home's profile, YAML: an item of a homes file"`
}

type nothing struct{}

func (a *API) registerHomes() {
	huma.Register(a.huma, op("GET", "/homes", "list-homes", "The homes that one may know of", 200), a.listHomes)
	huma.Register(a.huma, op("POST", "/homes", "add-home", "Add a home", 201), a.addHome)
	huma.Register(a.huma, op("GET", "/homes/{home}", "get-home", "A home", 200), a.getHome)
	huma.Register(a.huma, op("DELETE", "/homes/{home}", "erase-home", "Erase a home with all its data; it cannot be undone", 204), a.eraseHome)
	huma.Register(a.huma, op("GET", "/homes/{home}/profile", "get-profile", "A home's profile", 200), a.getProfile)
	huma.Register(a.huma, op("PUT", "/homes/{home}/profile", "put-profile", "Change a home's profile", 204), a.putProfile)
	huma.Register(a.huma, op("GET", "/homes/{home}/away", "get-away", "Days on Which nobody is at home", 200), a.getAway)
	huma.Register(a.huma, op("PUT", "/homes/{home}/away", "put-away", "Say on Which days nobody is at home", 204), a.putAway)
	huma.Register(a.huma, op("GET", "/homes/{home}/export", "export-home", "All data of a home as a zip", 200), a.exportHome)
	if a.People != nil {
		huma.Register(a.huma, op("GET", "/homes/{home}/place", "get-place", "The firm and area of a home", 200), a.getPlace)
		huma.Register(a.huma, op("PUT", "/homes/{home}/place", "put-place", "Put a home under a firm and in an area", 204), a.putPlace)
	}
}

func viewOf(h detect.Home, at care.Place) homeView {
	v := homeView{ID: h.ID, Name: h.Name, Timezone: h.Location.String(), Units: string(h.Units), Firm: at.Firm, Area: at.Area, Away: []day2{}}
	for _, s := range h.Away {
		v.Away = append(v.Away, day2{s.From.Format(time.DateOnly), s.To.AddDate(0, 0, -1).Format(time.DateOnly)})
	}
	return v
}

func (a *API) places(ctx context.Context) (map[string]care.Place, error) {
	of := map[string]care.Place{}
	if a.People == nil {
		return of, nil
	}
	all, err := a.People.Places(ctx)
	for _, p := range all {
		of[p.Home] = p
	}
	return of, err
}

// visible are the homes at Which who asks may do an action.
func (a *API) visible(ctx context.Context, action care.Action) ([]homeView, error) {
	if p, signed := access.From(ctx); signed && p.Role.Reach(action) == care.Nowhere {
		return nil, forbidden()
	}
	of, err := a.places(ctx)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	var out []homeView
	for _, h := range a.Homes.Homes() {
		at, ok := of[h.ID]
		if !ok {
			at = care.Place{Home: h.ID}
		}
		if access.Knows(ctx, at) && access.May(ctx, action, at) {
			out = append(out, viewOf(h, at))
		}
	}
	return out, nil
}

func (a *API) listHomes(ctx context.Context, in *struct {
	Paging
	Firm string `query:"firm" doc:"only of this firm"`
	Area string `query:"area" doc:"only in this area"`
}) (*pageOf[homeView], error) {
	all, err := a.visible(ctx, care.SeeProfile)
	if err != nil {
		return nil, err
	}
	var some []homeView
	for _, h := range all {
		if (in.Firm == "" || h.Firm == in.Firm) && (in.Area == "" || h.Area == in.Area) {
			some = append(some, h)
		}
	}
	return slice(some, func(h homeView) string { return h.ID }, in.Paging)
}

func (a *API) home(id string) (detect.Home, error) {
	if h, ok := a.Homes.Home(id); ok {
		return h, nil
	}
	return detect.Home{}, a.fail(care.ErrNone, "home")
}

func (a *API) getHome(ctx context.Context, in *HomePath) (*homeBody, error) {
	at, err := a.at(ctx, in.Home, care.SeeProfile)
	if err != nil {
		return nil, err
	}
	h, err := a.home(in.Home)
	if err != nil {
		return nil, err
	}
	return &homeBody{viewOf(h, at)}, nil
}

func (a *API) addHome(ctx context.Context, in *struct {
	Body struct {
		ProfileView
		Firm string `json:"firm,omitempty" doc:"who looks after it; one's own when it is not given"`
		Area string `json:"area,omitempty"`
	}
}) (*homeBody, error) {
	h, err := parseProfile(in.Body.Profile)
	if err != nil {
		return nil, err
	}
	at, err := a.newPlace(ctx, care.Place{Home: h.ID, Firm: in.Body.Firm, Area: in.Body.Area})
	if err != nil {
		return nil, err
	}
	if err := a.putNew(ctx, h, in.Body.Profile, at); err != nil {
		return nil, err
	}
	return &homeBody{viewOf(h, at)}, nil
}

// newPlace is where a new home goes, when who asks may put one there.
func (a *API) newPlace(ctx context.Context, at care.Place) (care.Place, error) {
	p, signed := access.From(ctx)
	if at.Firm == "" && signed {
		at.Firm = p.Firm
	}
	if !access.May(ctx, care.SetUpHome, at) {
		return at, forbidden()
	}
	if a.People == nil || at.Firm == "" {
		return at, nil
	}
	if _, err := a.People.Firm(ctx, at.Firm); err != nil {
		return at, a.fail(err, "firm")
	}
	return at, nil
}

// putNew takes in a home that is not there. That an id is taken is all that one
// learns of another firm's home: ids are of the whole installation.
func (a *API) putNew(ctx context.Context, h detect.Home, profile string, at care.Place) error {
	if _, err := a.home(h.ID); err == nil {
		return huma.Error409Conflict("Another home has that id. Ids are of the whole installation: put something of your own before it.")
	}
	if err := a.Homes.PutHome(ctx, h, profile); err != nil {
		return a.fail(err, "home")
	}
	if a.People != nil {
		if err := a.People.SetPlace(ctx, at); err != nil {
			return a.fail(err, "firm")
		}
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: h.ID, Act: "home added", Subject: h.ID})
	return nil
}

// parseProfile reads a profile, and says all that is wrong with it.
func parseProfile(text string) (detect.Home, error) {
	h, err := detect.ReadHome("profile", text)
	if err == nil {
		return h, nil
	}
	var details []error
	for _, line := range strings.Split(err.Error(), "\n") {
		details = append(details, errors.New(strings.TrimPrefix(line, "profile:")))
	}
	return h, huma.Error422UnprocessableEntity("The profile cannot be taken; errors says why, line by line.", details...)
}

func (a *API) getProfile(ctx context.Context, in *HomePath) (*struct{ Body ProfileView }, error) {
	if _, err := a.at(ctx, in.Home, care.SeeProfile); err != nil {
		return nil, err
	}
	text, err := a.Homes.Profile(ctx, in.Home)
	return &struct{ Body ProfileView }{ProfileView{text}}, a.fail(err, "home")
}

func (a *API) putProfile(ctx context.Context, in *struct {
	HomePath
	Body ProfileView
}) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.SetUpHome)
	if err != nil {
		return nil, err
	}
	h, err := parseProfile(in.Body.Profile)
	if err != nil {
		return nil, err
	}
	if h.ID != in.Home {
		return nil, huma.Error422UnprocessableEntity(fmt.Sprintf("The profile has the id %q: a home keeps its id.", h.ID))
	}
	if err := a.Homes.PutHome(ctx, h, in.Body.Profile); err != nil {
		return nil, a.fail(err, "home")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: h.ID, Act: "profile changed", Subject: h.ID})
	return &nothing{}, nil
}

type awayView struct {
	Away []day2 `json:"away" nullable:"false" maxItems:"100"`
}

func (a *API) getAway(ctx context.Context, in *HomePath) (*struct{ Body awayView }, error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	h, err := a.home(in.Home)
	if err != nil {
		return nil, err
	}
	return &struct{ Body awayView }{awayView{viewOf(h, care.Place{}).Away}}, nil
}

func (a *API) putAway(ctx context.Context, in *struct {
	HomePath
	Body awayView
}) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.TellAway)
	if err != nil {
		return nil, err
	}
	h, err := a.home(in.Home)
	if err != nil {
		return nil, err
	}
	spans, err := spansOf(in.Body.Away, h.Location)
	if err != nil {
		return nil, err
	}
	text, err := a.Homes.Profile(ctx, in.Home)
	if err == nil {
		text, err = detect.WithAway(text, spans)
	}
	if err != nil {
		return nil, a.fail(err, "home")
	}
	h.Away = spans
	if err := a.Homes.PutHome(ctx, h, text); err != nil {
		return nil, a.fail(err, "home")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: h.ID, Act: "away changed", Subject: h.ID})
	return &nothing{}, nil
}

func spansOf(days []day2, where *time.Location) (out []detect.Span, err error) {
	for _, d := range days {
		from, err1 := time.ParseInLocation(time.DateOnly, d.From, where)
		to, err2 := time.ParseInLocation(time.DateOnly, d.To, where)
		if err1 != nil || err2 != nil || to.Before(from) {
			return nil, huma.Error422UnprocessableEntity(fmt.Sprintf("from %s to %s are not two days in order, as in 2026-08-01", d.From, d.To))
		}
		out = append(out, detect.Span{From: from, To: to.AddDate(0, 0, 1)})
	}
	return out, nil
}

func (a *API) eraseHome(ctx context.Context, in *HomePath) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.RemoveHome)
	if err != nil {
		return nil, err
	}
	if err := a.Homes.RemoveHome(ctx, in.Home); err != nil {
		return nil, a.fail(err, "home")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Act: "home erased", Subject: in.Home})
	return &nothing{}, nil
}

func (a *API) exportHome(ctx context.Context, in *HomePath) (*huma.StreamResponse, error) {
	at, err := a.at(ctx, in.Home, care.ExportHome)
	if err != nil {
		return nil, err
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "home exported", Subject: in.Home})
	return &huma.StreamResponse{Body: func(c huma.Context) {
		c.SetHeader("Content-Type", "application/zip")
		c.SetHeader("Content-Disposition", fmt.Sprintf(`attachment; filename="%s.zip"`, in.Home)) // an id, Which needs no quoting
		if err := a.Homes.Export(ctx, in.Home, c.BodyWriter()); err != nil {
			a.Logger.Error("an export broke off", "home", in.Home, "error", err)
			panic(http.ErrAbortHandler) // the status is sent; only a broken answer says that it is not whole
		}
	}}, nil
}

type placeView struct {
	Firm string `json:"firm" doc:"empty: nobody"`
	Area string `json:"area" maxLength:"120"`
}

func (a *API) getPlace(ctx context.Context, in *HomePath) (*struct{ Body placeView }, error) {
	at, err := a.at(ctx, in.Home, care.SeeProfile)
	return &struct{ Body placeView }{placeView{at.Firm, at.Area}}, err
}

func (a *API) putPlace(ctx context.Context, in *struct {
	HomePath
	Body placeView
}) (*nothing, error) {
	at, err := a.at(ctx, in.Home, care.SetUpHome)
	if err != nil {
		return nil, err
	}
	if in.Body.Firm != at.Firm && !access.May(ctx, care.MoveHome, at) {
		return nil, forbidden()
	}
	if err := a.People.SetPlace(ctx, care.Place{Home: in.Home, Firm: in.Body.Firm, Area: in.Body.Area}); err != nil {
		return nil, a.fail(err, "firm")
	}
	a.note(ctx, care.Deed{Firm: at.Firm, Home: in.Home, Act: "home placed", Subject: in.Home, Detail: in.Body.Firm})
	return &nothing{}, nil
}
