package api

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/dashboards/access"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
	"brinebell/detect/cause"
	"brinebell/detect/regeneration"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// town is two firms with their homes and people, in memory: what stands behind
// the interface in these tests.
type town struct {
	mu       sync.Mutex // guards all below
	profiles map[string]string
	at       map[string]care.Place
	alerts   []detect.Alert
	latest   map[detect.Signal]Value
	cases    map[string]Case
	reports  []Report
	firms    []care.Firm
	people   map[string]care.Person
	tokens   []care.Token
	devices  []care.Device
	deeds    []care.Deed
	changes  chan struct{}
	undone   []int64
	next     int
}

func newTown() *town {
	t := &town{profiles: map[string]string{}, at: map[string]care.Place{}, people: map[string]care.Person{}, cases: map[string]Case{}, changes: make(chan struct{}, 1),
		latest: map[detect.Signal]Value{detect.InletVolume: {noon, 1000}, detect.BrineLevel: {noon, 200}},
		firms:  []care.Firm{{ID: "north", Name: "North Shore"}, {ID: "south", Name: "Southmere"}}}
	for home, firm := range map[string]string{"mill-1": "north", "mill-2": "north", "quay-1": "south"} {
		t.profiles[home] = "id: " + home + "\ntimezone: Europe/Dublin\n"
		t.at[home] = care.Place{Home: home, Firm: firm}
		id := "alert-" + home
		t.alerts = append(t.alerts, detect.Alert{ID: id, Home: home, Kind: detect.NightLeak, Severity: detect.ThisWeek, Onset: noon, Raised: noon,
			Summary: "Water runs all night.", Causes: []detect.CauseShare{{Cause: detect.FlapperLeak, Probability: 0.7}}, Evidence: detect.Evidence{"size_l_per_min": 0.3}})
		t.cases["case-"+home] = Case{Case: care.Case{ID: "case-" + home, Home: home, Stage: care.Open, Lead: id, Alerts: []string{id},
			Steps: []care.Step{{Seq: 1, At: noon, Act: care.Raised, Alert: id}}}, Version: 1, Opened: noon, Changed: noon, Kind: detect.NightLeak, Severity: detect.ThisWeek, Standing: []string{id}}
		t.devices = append(t.devices, care.Device{Home: home, ID: "meter", Name: "Meter", Password: true})
	}
	for _, p := range []care.Person{
		{ID: "house", Role: care.Household, Firm: "north", Homes: []string{"mill-1"}},
		{ID: "neighbour", Role: care.Household, Firm: "north", Homes: []string{"mill-2"}},
		{ID: "tech", Role: care.Technician, Firm: "north"},
		{ID: "boss", Role: care.Manager, Firm: "north"},
		{ID: "op", Role: care.Operator},
		{ID: "rival", Role: care.Manager, Firm: "south"},
	} {
		p.Name, p.Email = p.ID, p.ID+"@example.org"
		t.people[p.ID] = p
		t.tokens = append(t.tokens, care.Token{ID: "token-" + p.ID, Person: p.ID, Name: "x", Scope: care.ReadScope, Created: noon, Expires: noon.AddDate(0, 1, 0)})
	}
	return t
}

func (t *town) Homes() (out []detect.Home) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, text := range t.profiles {
		h, err := detect.ReadHome("profile", text)
		if err != nil {
			panic(err)
		}
		out = append(out, h)
	}
	slices.SortFunc(out, func(a, b detect.Home) int { return strings.Compare(a.ID, b.ID) })
	return out
}

func (t *town) Home(id string) (detect.Home, bool) {
	for _, h := range t.Homes() {
		if h.ID == id {
			return h, true
		}
	}
	return detect.Home{}, false
}

func (t *town) Profile(_ context.Context, home string) (string, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.profiles[home], nil
}

func (t *town) PutHome(_ context.Context, h detect.Home, text string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.profiles[h.ID] = text
	if _, ok := t.at[h.ID]; !ok {
		t.at[h.ID] = care.Place{Home: h.ID}
	}
	return nil
}

func (t *town) RemoveHome(_ context.Context, home string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.profiles, home)
	delete(t.at, home)
	return nil
}

func (t *town) Export(_ context.Context, home string, out io.Writer) error {
	_, err := io.WriteString(out, "zip of "+home)
	return err
}

func (t *town) Alerts(_ context.Context, home string) (out []detect.Alert, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, a := range t.alerts {
		if home == "" || a.Home == home {
			out = append(out, a)
		}
	}
	return out, nil
}

func (t *town) Regenerations(context.Context, string, time.Time, time.Time) ([]Regeneration, error) {
	r := Regeneration{Record: regeneration.Record{Start: noon, End: noon.Add(time.Hour), BrineLitres: 5, Confidence: 0.99}}
	r.DrainLitres, r.RefillLitres = float64(books.Unknown()), float64(books.Unknown())
	return []Regeneration{r}, nil
}

func (t *town) Books(context.Context, string) (books.Books, bool) { return books.Books{At: noon}, true }

func (t *town) Points(context.Context, string, detect.Signal, time.Time, time.Time, int) ([]Point, error) {
	return []Point{{noon, 1, 2, 3}}, nil
}

func (t *town) Latest(context.Context, string) (map[detect.Signal]Value, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	out := map[detect.Signal]Value{}
	for s, v := range t.latest {
		out[s] = v
	}
	return out, nil
}

func (t *town) Changes(context.Context) <-chan struct{} { return t.changes }
func (t *town) Refused() []Refused {
	return []Refused{{Topic: "x", Reason: "not_allowed", First: noon, Last: noon}}
}

func (t *town) List(_ context.Context, q CaseQuery) (out []Case, next string, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, c := range t.cases {
		if q.Homes == nil || slices.Contains(q.Homes, c.Home) {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b Case) int { return strings.Compare(a.ID, b.ID) })
	return out, "", nil
}

func (t *town) Case(_ context.Context, id string) (Case, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if c, ok := t.cases[id]; ok {
		return c, nil
	}
	return Case{}, care.ErrNone
}

func (t *town) Act(_ context.Context, by care.Person, id string, d Doing) (Case, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	c := t.cases[id]
	if d.Version != 0 && d.Version != c.Version {
		return c, ErrStale
	}
	step := care.Step{Seq: c.Version + 1, At: noon, By: by.ID, Act: d.Act, Alert: d.Alert, Cause: d.Cause, Text: d.Text, Due: d.Due}
	moved, err := c.Case.Next(step, by.Role)
	if err != nil {
		return c, err
	}
	c.Case, c.Version = moved, c.Version+1
	t.cases[id] = c
	return c, nil
}

func (t *town) Report(_ context.Context, by care.Person, _ string, r Report) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	r.At, r.By = noon, by.ID
	t.reports = append(t.reports, r)
	return nil
}

func (t *town) Reports(context.Context, string) ([]Report, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return slices.Clone(t.reports), nil
}

func (t *town) Evidence(context.Context, string) (cause.Evidence, error) {
	return cause.Evidence{Findings: []cause.Finding{{Kind: detect.NightLeak}}}, nil
}

func (t *town) Experience(context.Context, string) (cause.Experience, error) {
	return cause.Experience{}, nil
}

func (t *town) Confirmations(_ context.Context, firm string) ([]Confirmation, error) {
	if firm == "north" {
		return []Confirmation{{ID: 7, Home: "mill-1", Cause: detect.FlapperLeak, At: noon}}, nil
	}
	return nil, nil
}

func (t *town) Undo(_ context.Context, _ care.Person, id int64) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.undone = append(t.undone, id)
	return nil
}

func (t *town) Place(_ context.Context, home string) (care.Place, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if at, ok := t.at[home]; ok {
		return at, nil
	}
	return care.Place{}, care.ErrNone
}

func (t *town) Places(context.Context) (out []care.Place, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, at := range t.at {
		out = append(out, at)
	}
	return out, nil
}

func (t *town) SetPlace(_ context.Context, p care.Place) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.at[p.Home] = p
	return nil
}

func (t *town) Firms(context.Context) ([]care.Firm, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return slices.Clone(t.firms), nil
}

func (t *town) Firm(_ context.Context, id string) (care.Firm, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, f := range t.firms {
		if f.ID == id {
			return f, nil
		}
	}
	return care.Firm{}, care.ErrNone
}

func (t *town) AddFirm(_ context.Context, f care.Firm) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if slices.ContainsFunc(t.firms, func(o care.Firm) bool { return o.ID == f.ID }) {
		return care.ErrTaken
	}
	t.firms = append(t.firms, f)
	return nil
}

func (t *town) RenameFirm(context.Context, care.Firm) error { return nil }

func (t *town) People(_ context.Context, firm string) (out []care.Person, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, p := range t.people {
		if firm == "" || p.Firm == firm {
			out = append(out, p)
		}
	}
	return out, nil
}

func (t *town) Person(_ context.Context, id string) (care.Person, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if p, ok := t.people[id]; ok {
		return p, nil
	}
	return care.Person{}, care.ErrNone
}

func (t *town) Add(_ context.Context, p care.Person) (care.Person, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.next++
	p.ID = fmt.Sprint("new-", t.next)
	t.people[p.ID] = p
	return p, nil
}

func (t *town) Change(_ context.Context, p care.Person) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.people[p.ID] = p
	return nil
}

func (t *town) Remove(_ context.Context, id string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.people, id)
	return nil
}

func (t *town) Invite(context.Context, string, time.Duration) (string, error) { return "SECRET", nil }

func (t *town) Tokens(_ context.Context, person string) (out []care.Token, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, k := range t.tokens {
		if k.Person == person {
			out = append(out, k)
		}
	}
	return out, nil
}

func (t *town) AddToken(_ context.Context, k care.Token) (care.Token, string, error) {
	k.ID, k.Created = "made", noon
	return k, "SECRET", nil
}

func (t *town) RemoveToken(_ context.Context, person, id string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	before := len(t.tokens)
	t.tokens = slices.DeleteFunc(t.tokens, func(k care.Token) bool { return k.Person == person && k.ID == id })
	if len(t.tokens) == before {
		return care.ErrNone
	}
	return nil
}

func (t *town) Devices(_ context.Context, home string) (out []care.Device, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, d := range t.devices {
		if d.Home == home {
			out = append(out, d)
		}
	}
	return out, nil
}

func (t *town) AddDevice(_ context.Context, d care.Device) (string, error) {
	if err := care.CheckDeviceID(d.ID); err != nil {
		return "", fmt.Errorf("%w: %w", care.ErrBad, err)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.devices = append(t.devices, d)
	return "SECRET", nil
}

func (t *town) changeDevice(home, id string, do func(*care.Device)) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	for i := range t.devices {
		if t.devices[i].Home == home && t.devices[i].ID == id {
			do(&t.devices[i])
			return nil
		}
	}
	return care.ErrNone
}

func (t *town) ChangeDevice(_ context.Context, d care.Device) error {
	return t.changeDevice(d.Home, d.ID, func(old *care.Device) { old.Name = d.Name })
}

func (t *town) NewDevicePassword(_ context.Context, home, id string) (string, error) {
	return "SECRET", t.changeDevice(home, id, func(*care.Device) {})
}

func (t *town) RemoveDevice(_ context.Context, home, id string) error {
	return t.changeDevice(home, id, func(d *care.Device) { d.Home = "gone" })
}

func (t *town) Note(_ context.Context, d care.Deed) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	d.ID, d.At = int64(len(t.deeds)+1), noon
	t.deeds = append(t.deeds, d)
	return nil
}

func (t *town) Audit(_ context.Context, q care.DeedQuery) (out []care.Deed, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, d := range slices.Backward(t.deeds) {
		if (q.Firm == "" || d.Firm == q.Firm) && (q.Home == "" || d.Home == q.Home) && (q.Before == 0 || d.ID < q.Before) && len(out) < q.Most {
			out = append(out, d)
		}
	}
	return out, nil
}

// stage holds the town of the moment, so that many tests share what takes long
// to make.
type stage struct{ *town }

func newAPI(t testing.TB, change ...func(*Options)) (*API, *stage) {
	t.Helper()
	w := &stage{newTown()}
	o := Options{Homes: w, Cases: w, People: w, Now: func() time.Time { return noon }, Version: "test"}
	for _, f := range change {
		f(&o)
	}
	a, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(a.Close)
	return a, w
}

// as is a request's context in which one of the town's people asks, or nobody.
func (t *town) as(id string) context.Context {
	t.mu.Lock()
	defer t.mu.Unlock()
	if p, ok := t.people[id]; ok {
		return access.With(context.Background(), p)
	}
	return context.Background()
}

// call makes a call, with a body as JSON unless it is text.
func call(t testing.TB, a *API, ctx context.Context, method, path string, body any, headers ...string) *httptest.ResponseRecorder {
	t.Helper()
	var in io.Reader = http.NoBody
	kind := "application/json"
	switch b := body.(type) {
	case nil:
	case string:
		in, kind = strings.NewReader(b), "text/csv"
	default:
		text, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		in = strings.NewReader(string(text))
	}
	r := httptest.NewRequestWithContext(ctx, method, Prefix+path, in)
	if body != nil {
		r.Header.Set("Content-Type", kind)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	a.Handler().ServeHTTP(w, r)
	return w
}

type object = map[string]any

func decode(t testing.TB, w *httptest.ResponseRecorder) object {
	t.Helper()
	var out object
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil {
		t.Fatalf("%d %s: %v", w.Code, w.Body, err)
	}
	return out
}
