package setup

import (
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

// calls stands for the interface for programs: it notes what is asked, and
// answers with what a test says.
type calls struct {
	made    []string
	answers map[string]string // of "METHOD path"; a status before the body when it is not 200
}

func (c *calls) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	name := r.Method + " " + strings.TrimPrefix(r.URL.Path, prefix)
	c.made = append(c.made, name+" "+r.URL.RawQuery+" "+string(body))
	answer, ok := c.answers[name]
	if !ok {
		answer = "404 {}"
	}
	if status, rest, found := strings.Cut(answer, " "); found && len(status) == 3 {
		code := map[string]int{"404": 404, "403": 403, "422": 422, "500": 500, "204": 204}[status]
		w.WriteHeader(code)
		answer = rest
	}
	_, _ = io.WriteString(w, answer)
}

func newPages(t *testing.T, answers map[string]string) (*http.ServeMux, *calls) {
	t.Helper()
	c := &calls{answers: map[string]string{
		"GET /homes":                 `{"items":[{"id":"mill-1","name":"Mill <1>"}]}`,
		"GET /homes/mill-1":          `{"id":"mill-1","name":"Mill <1>"}`,
		"GET /homes/mill-1/profile":  `{"profile":"id: mill-1\n"}`,
		"GET /homes/mill-1/devices":  `{"items":[{"id":"meter","name":"Meter","login":"mill-1/meter","password":true}]}`,
		"GET /homes/mill-1/signals":  `{"signals":[{"signal":"inlet_volume","unit":"L","time":"2026-03-01T12:00:00Z","value":5}]}`,
		"PUT /homes/mill-1/profile":  `204 `,
		"POST /homes":                `{"id":"new-1"}`,
		"POST /homes/mill-1/devices": `{"id":"level","name":"Level","login":"mill-1/level","secret":"SECRET","topic":"homes/mill-1/sensors/level"}`,
		"POST /homes/import":         `{"homes":1,"added":0,"bad":[{"line":2,"column":"timezone","why":"no such zone"}],"devices":[]}`,
	}}
	for k, v := range answers {
		c.answers[k] = v
	}
	s, err := New(Options{API: c, Accounts: true})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	s.Register(mux)
	return mux, c
}

func get(t *testing.T, h http.Handler, method, path string, body io.Reader, kind string, who care.Person) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(method, path, body)
	r.Header.Set("Content-Type", kind)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r.WithContext(access.With(r.Context(), who)))
	return w
}

var boss = care.Person{ID: "boss", Role: care.Manager, Firm: "north"}

const form = "application/x-www-form-urlencoded"

func TestTheHomesPage(t *testing.T) {
	mux, _ := newPages(t, nil)
	got := get(t, mux, "GET", "/set-up", nil, "", boss)
	for _, want := range []string{"Mill &lt;1&gt;", "/homes/mill-1/set-up", "id: mill-lane-4"} {
		if got.Code != http.StatusOK || !strings.Contains(got.Body.String(), want) {
			t.Errorf("%d, without %q", got.Code, want)
		}
	}
	if got.Header().Get("Content-Security-Policy") == "" || got.Header().Get("Cache-Control") != "no-store" {
		t.Error(got.Header())
	}
	house := care.Person{ID: "h", Role: care.Household, Firm: "north", Homes: []string{"mill-1"}}
	if got := get(t, mux, "GET", "/set-up", nil, "", house); got.Code != http.StatusForbidden {
		t.Error("a household sets up homes", got.Code)
	}
}

func TestAddingAHome(t *testing.T) {
	mux, c := newPages(t, nil)
	body := url.Values{"profile": {"id: new-1\n"}, "area": {"harbour"}}.Encode()
	got := get(t, mux, "POST", "/set-up/homes", strings.NewReader(body), form, boss)
	if got.Code != http.StatusSeeOther || got.Header().Get("Location") != "/homes/new-1/set-up" {
		t.Error(got.Code, got.Header())
	}
	if want := `POST /homes  {"area":"harbour","profile":"id: new-1\n"}`; c.made[0] != want {
		t.Errorf("%q, want %q", c.made[0], want)
	}
	mux, _ = newPages(t, map[string]string{"POST /homes": `422 {"detail":"The profile cannot be taken.","errors":[{"message":"3: lid: unknown key"}]}`})
	got = get(t, mux, "POST", "/set-up/homes", strings.NewReader(body), form, boss)
	if text := got.Body.String(); got.Code != 422 || !strings.Contains(text, "3: lid: unknown key") || !strings.Contains(text, "id: new-1") {
		t.Error(got.Code, "what was typed is lost, or why is not said", text)
	}
}

func TestAFleet(t *testing.T) {
	send := func(mux http.Handler, values map[string]string, table string) *httptest.ResponseRecorder {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for k, v := range values {
			_ = w.WriteField(k, v)
		}
		if table != "" {
			f, _ := w.CreateFormFile("table", "fleet.csv")
			_, _ = io.WriteString(f, table)
		}
		_ = w.Close()
		return get(t, mux, "POST", "/set-up/fleet", &b, w.FormDataContentType(), boss)
	}
	mux, c := newPages(t, nil)
	got := send(mux, nil, "id,timezone\n")
	if text := got.Body.String(); !strings.Contains(text, "no such zone") || !strings.Contains(text, "Nothing was added") || c.made[0] != "POST /homes/import dry_run=true id,timezone\n" {
		t.Error(c.made[0], text)
	}
	mux, c = newPages(t, map[string]string{"POST /homes/import": `{"homes":1,"added":1,"bad":[],"devices":[{"login":"a/b","secret":"SECRET"}]}`})
	got = send(mux, map[string]string{"do": "yes"}, "id,timezone\n")
	if text := got.Body.String(); !strings.Contains(text, "1 homes were added") || !strings.Contains(text, "SECRET") || !strings.HasPrefix(c.made[0], "POST /homes/import dry_run=false") {
		t.Error(c.made[0], text)
	}
	if got := send(mux, nil, ""); got.Code != 422 || !strings.Contains(got.Body.String(), "Choose a table") {
		t.Error(got.Code)
	}
	if got := send(mux, nil, strings.Repeat("x", maxTable+1)); got.Code != http.StatusRequestEntityTooLarge {
		t.Error(got.Code)
	}
}

func TestAHomesPage(t *testing.T) {
	mux, c := newPages(t, nil)
	got := get(t, mux, "GET", "/homes/mill-1/set-up", nil, "", boss)
	for _, want := range []string{"mill-1/meter", "inlet_volume: 5 L", `data-check="/api/v1/homes/mill-1/sensor-check"`, "id: mill-1"} {
		if got.Code != http.StatusOK || !strings.Contains(got.Body.String(), want) {
			t.Errorf("%d, without %q: %s", got.Code, want, got.Body)
		}
	}
	got = get(t, mux, "POST", "/homes/mill-1/set-up/profile", strings.NewReader("profile=id%3A+mill-1"), form, boss)
	if got.Code != http.StatusSeeOther {
		t.Error(got.Code)
	}
	got = get(t, mux, "POST", "/homes/mill-1/set-up/devices", strings.NewReader("device=level&topics=a+b"), form, boss)
	if text := got.Body.String(); !strings.Contains(text, "SECRET") || !strings.Contains(text, "homes/mill-1/sensors/level") {
		t.Error(text)
	}
	var sent struct {
		ID, Name string
		Topics   []string
	}
	for _, call := range c.made {
		if text, ok := strings.CutPrefix(call, "POST /homes/mill-1/devices  "); ok {
			if err := json.Unmarshal([]byte(text), &sent); err != nil || sent.Name != "level" || len(sent.Topics) != 2 {
				t.Error(text, err)
			}
		}
	}
	operator := care.Person{ID: "op", Role: care.Operator}
	mux, _ = newPages(t, map[string]string{"GET /homes/mill-1/signals": "403 {}"})
	if got := get(t, mux, "GET", "/homes/mill-1/set-up", nil, "", operator); got.Code != http.StatusOK || strings.Contains(got.Body.String(), "inlet_volume") {
		t.Error("an operator", got.Code)
	}
}

// TestWhatIsNotThere answers alike for a foreign home and none, whatever is
// asked, and tells nothing of a failure.
func TestWhatIsNotThere(t *testing.T) {
	mux, _ := newPages(t, map[string]string{"GET /homes/broken": `500 {"detail":"disk full: /var"}`})
	for _, c := range []struct{ method, path string }{{"GET", "/homes/quay-1/set-up"}, {"POST", "/homes/quay-1/set-up/profile"}, {"POST", "/homes/quay-1/set-up/devices"}, {"POST", "/homes/quay-1/set-up/remove"}} {
		foreign := get(t, mux, c.method, c.path, strings.NewReader("a=b"), form, boss)
		absent := get(t, mux, c.method, strings.Replace(c.path, "quay-1", "nowhere", 1), strings.NewReader("a=b"), form, boss)
		if foreign.Code != http.StatusNotFound || foreign.Body.String() != absent.Body.String() {
			t.Errorf("%s %s: %d\n%s\n%s", c.method, c.path, foreign.Code, foreign.Body, absent.Body)
		}
	}
	if got := get(t, mux, "GET", "/homes/broken/set-up", nil, "", boss); got.Code != http.StatusInternalServerError || strings.Contains(got.Body.String(), "disk") {
		t.Error(got.Code, got.Body)
	}
	for path, want := range map[string]int{"/set-up/style.css": 200, "/set-up/check.js": 200, "/set-up/..%2fpages.go": 404, "/set-up/frame.html": 404} {
		if got := get(t, mux, "GET", path, nil, "", boss); got.Code != want {
			t.Errorf("%s: %d", path, got.Code)
		}
	}
	if _, err := New(Options{}); err == nil {
		t.Error("pages of nothing")
	}
	if len(Rules()) != 2 {
		t.Error(Rules())
	}
}

func TestPeople(t *testing.T) {
	answers := map[string]string{
		"GET /people":          `{"items":[{"id":"p1","name":"Ann <b>","email":"ann@example.org","role":"technician","firm":"north"}]}`,
		"GET /people/p1":       `{"id":"p1","name":"Ann <b>","email":"ann@example.org","role":"technician","firm":"north","disabled":false}`,
		"PUT /people/p1":       "204 ",
		"POST /people":         `{"id":"p2","name":"Bob"}`,
		"POST /people/p2/link": `{"sent":false,"link":"https://x/link/SECRET"}`,
		"POST /people/p1/link": `{"sent":true}`,
	}
	mux, c := newPages(t, answers)
	if got := get(t, mux, "GET", "/set-up/people", nil, "", boss); got.Code != http.StatusOK || !strings.Contains(got.Body.String(), "Ann &lt;b&gt;") {
		t.Error(got.Code, got.Body)
	}
	body := url.Values{"name": {"Bob"}, "email": {"bob@example.org"}, "role": {"household"}, "homes": {"mill-1 mill-2"}, "firm": {"south"}}.Encode()
	got := get(t, mux, "POST", "/set-up/people", strings.NewReader(body), form, boss)
	if !strings.Contains(got.Body.String(), "https://x/link/SECRET") {
		t.Error(got.Body)
	}
	if want := `POST /people  {"email":"bob@example.org","firm":"north","homes":["mill-1","mill-2"],"name":"Bob","role":"household"}`; !slices.Contains(c.made, want) {
		t.Errorf("%q", c.made)
	}
	got = get(t, mux, "POST", "/set-up/people/change", strings.NewReader("person=p1&do=link"), form, boss)
	if text := got.Body.String(); !strings.Contains(text, "under way by mail") {
		t.Error(text)
	}
	get(t, mux, "POST", "/set-up/people/change", strings.NewReader("person=p1&do=keep"), form, boss)
	if !slices.ContainsFunc(c.made, func(s string) bool {
		return strings.HasPrefix(s, "PUT /people/p1") && strings.Contains(s, `"disabled":true`)
	}) {
		t.Errorf("%q", c.made)
	}
	for _, who := range []care.Person{{Role: care.Technician, Firm: "north"}, {Role: care.Household, Firm: "north"}} {
		if got := get(t, mux, "GET", "/set-up/people", nil, "", who); got.Code != http.StatusForbidden {
			t.Errorf("%s: %d", who.Role, got.Code)
		}
	}
	if got := get(t, mux, "POST", "/set-up/people/change", strings.NewReader("person=rival"), form, boss); got.Code != http.StatusNotFound {
		t.Error("somebody of another firm:", got.Code)
	}
}
