package web

import (
	"context"
	"net/http"
	"strings"
	"time"

	"brinebell/dashboards/web/texts"
	"brinebell/detect"
	"brinebell/detect/care"
)

// asker is who asks for a page, and how they read.
type asker struct {
	person care.Person
	known  bool // somebody signed in; without people everybody sees everything
	tongue *texts.Tongue
	units  detect.Units // empty follows the home
}

// wishCookie keeps how a reader without an account reads: language and units
// with a dot between, either may be empty.
const wishCookie = "brinebell-reads"

type askerKey struct{}

// askerOf is who asks; nobody in particular outside a request.
func askerOf(ctx context.Context) asker {
	a, _ := ctx.Value(askerKey{}).(asker)
	return a
}

// knowing puts the asker into the request.
func (s *Server) knowing(r *http.Request) *http.Request {
	a := asker{}
	if s.Viewer != nil {
		a.person, a.known = s.Viewer(r.Context())
	}
	language, units := a.person.Language, a.person.Units
	if c, err := r.Cookie(wishCookie); err == nil {
		wished, measured, _ := strings.Cut(c.Value, ".")
		language, units = orElse(language, wished), orElse(units, detect.Units(measured))
	}
	a.tongue = s.texts.Match(language, r.Header.Get("Accept-Language"))
	if units == detect.Metric || units == detect.US {
		a.units = units
	}
	return r.WithContext(context.WithValue(r.Context(), askerKey{}, a))
}

func orElse[T ~string](first, second T) T {
	if first != "" {
		return first
	}
	return second
}

// speech is the asker's tongue, English for nobody in particular.
func (a asker) speech() *texts.Tongue {
	if a.tongue != nil {
		return a.tongue
	}
	catalogue, err := texts.Standard()
	if err != nil { // New has refused such a catalogue
		panic(err)
	}
	return catalogue.Tongue(texts.English)
}

// reads is how the asker reads a home.
func (a asker) reads(h detect.Home) reader {
	loc, units := h.Location, h.Units
	if loc == nil {
		loc = time.UTC
	}
	if a.units != "" {
		units = a.units
	}
	return reader{units, loc, a.speech()}
}

// plainly is how the asker reads what belongs to no home; one without a wish
// reads the units of most of the homes shown.
func (a asker) plainly(homes []*standing) reader {
	us := 0
	for _, h := range homes {
		if h.home.Units == detect.US {
			us++
		}
	}
	h := detect.Home{Units: detect.Metric, Location: time.UTC}
	if us*2 > len(homes) {
		h.Units = detect.US
	}
	if len(homes) > 0 && homes[0].home.Location != nil {
		h.Location = homes[0].home.Location
	}
	return a.reads(h)
}

// by is who an act is by.
func (a asker) by() string { return a.person.ID }
