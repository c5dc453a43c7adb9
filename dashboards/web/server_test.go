package web

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func newServer(t *testing.T, source Source) *Server {
	t.Helper()
	s, err := New(Options{Source: source, Title: "Saltmarsh", CauseText: fakeCause})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// get asks the server for a path, with headers as pairs.
func get(t *testing.T, s *Server, path string, headers ...string) *httptest.ResponseRecorder {
	t.Helper()
	w, r := httptest.NewRecorder(), httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	s.Handler().ServeHTTP(w, r)
	return w
}

func TestASourceIsNeeded(t *testing.T) {
	if _, err := New(Options{}); !errors.Is(err, ErrNoSource) {
		t.Errorf("error %v", err)
	}
}

func TestEveryPageKeepsToItself(t *testing.T) {
	town := newFakeTown()
	s := newServer(t, town)
	outside := regexp.MustCompile(`(?:src|href|action)="(?:https?:)?//`)
	inline := regexp.MustCompile(`(?i)<script>|\sstyle=|\son[a-z]+=|javascript:`)
	for name, path := range everyPage(town) {
		w := get(t, s, path)
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d", name, w.Code)
		}
		csp := w.Header().Get("Content-Security-Policy")
		if !strings.HasPrefix(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "*") {
			t.Errorf("%s: policy %q", name, csp)
		}
		if found := outside.FindString(w.Body.String()); found != "" {
			t.Errorf("%s: fetches from elsewhere: %s", name, found)
		}
		if found := inline.FindString(w.Body.String()); found != "" {
			t.Errorf("%s: has what its policy forbids: %s", name, found)
		}
		if strings.Contains(w.Body.String(), "ZgotmplZ") || strings.Contains(w.Body.String(), "<no value>") {
			t.Errorf("%s: a template refused a value", name)
		}
	}
}

// pageBound is the most that a page may weigh, without compression.
const pageBound = 100 << 10

func TestPagesAreLight(t *testing.T) {
	town := newFakeTown()
	s, err := New(fullOptions(town))
	must(t, err)
	for name, path := range everyFullPage(town) {
		if size := get(t, s, path).Body.Len(); size > pageBound {
			t.Errorf("%s weighs %d bytes", name, size)
		}
	}
}

func TestWhatIsNotThere(t *testing.T) {
	s := newServer(t, newFakeTown())
	for path, want := range map[string]string{
		"/nowhere":                           "There is no page at this address.",
		"/homes/nobody":                      "There is no home of that name here.",
		"/homes/nobody/regenerations":        "There is no home of that name here.",
		"/homes/mill-lane-4/regenerations/x": "No regeneration of this home began at that time.",
		"/homes/mill-lane-4/regenerations/20200101T000000Z": "No regeneration of this home began at that time.",
	} {
		w := get(t, s, path)
		if w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), want) || !strings.Contains(w.Body.String(), "<nav") && !strings.Contains(w.Body.String(), "onward") {
			t.Errorf("%s: %d, wants %q", path, w.Code, want)
		}
	}
}

func TestAFailureIsToldPlainlyAndItsCauseKept(t *testing.T) {
	town := newFakeTown()
	s := newServer(t, town)
	pages := everyPage(town)
	town.broken = errBroken
	delete(pages, "reading") // asks nobody
	for name, path := range pages {
		w := get(t, s, path)
		if name == "unheard" && w.Code == http.StatusOK {
			t.Errorf("%s hides that its alerts are not known", name)
		}
		if strings.Contains(w.Body.String(), errBroken.Error()) {
			t.Errorf("%s shows the cause to the reader", name)
		}
		if w.Code != http.StatusInternalServerError || !strings.Contains(w.Body.String(), "Try again") {
			t.Errorf("%s: %d", name, w.Code)
		}
	}
}

func TestAKeptCopyIsEnough(t *testing.T) {
	town := newFakeTown()
	s := newServer(t, town)
	first := get(t, s, "/homes/ferry-steps-2")
	tag := first.Header().Get("ETag")
	if again := get(t, s, "/homes/ferry-steps-2", "If-None-Match", tag); again.Code != http.StatusNotModified || again.Body.Len() > 0 {
		t.Errorf("unchanged page: %d with %d bytes", again.Code, again.Body.Len())
	}
	town.rename("ferry-steps-2", "Ferry House")
	if changed := get(t, s, "/homes/ferry-steps-2", "If-None-Match", tag); changed.Code != http.StatusOK {
		t.Errorf("changed page: %d", changed.Code)
	}
}

func TestStaticFiles(t *testing.T) {
	s := newServer(t, newFakeTown())
	for name, kind := range map[string]string{"style.css": "text/css", "live.js": "text/javascript", "icon.svg": "image/svg+xml"} {
		w := get(t, s, s.static.address(name))
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), kind) || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") {
			t.Errorf("%s: %d %v", name, w.Code, w.Header())
		}
		if again := get(t, s, "/static/"+name, "If-None-Match", w.Header().Get("ETag")); again.Code != http.StatusNotModified || strings.Contains(again.Header().Get("Cache-Control"), "immutable") {
			t.Errorf("%s without its version: %d %v", name, again.Code, again.Header())
		}
	}
	for _, path := range []string{"/static/none.css", "/static/..%2fdoc.go", "/static/"} {
		if w := get(t, s, path); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
}

func TestOnlyReading(t *testing.T) {
	w := httptest.NewRecorder()
	newServer(t, newFakeTown()).Handler().ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/", nil))
	if w.Code != http.StatusMethodNotAllowed {
		t.Errorf("POST: %d", w.Code)
	}
}
