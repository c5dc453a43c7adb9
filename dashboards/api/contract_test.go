package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
)

// TestAnswersAreAsDescribed holds every answer of the table against the schema
// that the served description gives for its operation and status.
func TestAnswersAreAsDescribed(t *testing.T) {
	a, town := newAPI(t)
	document := a.huma.OpenAPI()
	checked := 0
	for _, r := range routes {
		for i, who := range []string{"house", "tech", "boss", "op"} {
			town.town = newTown()
			with := things(who, false)
			got := call(t, a, town.as(who), r.method, fill(r.path, with), filled(t, r.body, with))
			if got.Code == out || got.Code != r.own[i] {
				continue // the table's own test says so
			}
			operation := operationFor(document, r)
			if operation == nil {
				t.Fatalf("%s %s is not described", r.method, r.path)
			}
			response := operation.Responses[fmt.Sprint(got.Code)]
			if response == nil && got.Code >= 400 {
				response = operation.Responses["default"]
			}
			if response == nil {
				t.Errorf("%s %s: %d is not described", r.method, r.path, got.Code)
				continue
			}
			kind, _, _ := strings.Cut(got.Header().Get("Content-Type"), ";")
			media := response.Content[kind]
			if got.Body.Len() == 0 || kind == "application/zip" {
				continue
			}
			if media == nil {
				t.Errorf("%s %s: %d gives %q, which is not described", r.method, r.path, got.Code, kind)
				continue
			}
			var value any
			if err := json.Unmarshal(got.Body.Bytes(), &value); err != nil {
				t.Fatal(err)
			}
			result := &huma.ValidateResult{}
			huma.Validate(document.Components.Schemas, media.Schema, huma.NewPathBuffer([]byte{}, 0), huma.ModeReadFromServer, value, result)
			for _, err := range result.Errors {
				t.Errorf("%s %s by %s: %d: %v\n%s", r.method, r.path, who, got.Code, err, got.Body)
			}
			checked++
		}
	}
	if checked < 100 {
		t.Errorf("only %d answers were checked", checked)
	}
}

func operationFor(document *huma.OpenAPI, r route) *huma.Operation {
	path, _, _ := strings.Cut(r.path, "?")
	path = strings.NewReplacer("/devices/meter", "/devices/{device}", "{confirmation}", "{id}", "/people/op", "/people/{person}").Replace(path)
	item := document.Paths[Prefix+path]
	if item == nil {
		return nil
	}
	return map[string]*huma.Operation{"GET": item.Get, "POST": item.Post, "PUT": item.Put, "DELETE": item.Delete}[r.method]
}

func TestTheDescriptionIsServed(t *testing.T) {
	a, town := newAPI(t)
	got := call(t, a, town.as("house"), "GET", "/openapi.json", nil)
	document := decode(t, got)
	if version, _ := document["openapi"].(string); !strings.HasPrefix(version, "3.1") || got.Code != ok {
		t.Error(got.Code, version)
	}
	for path := range document["paths"].(object) {
		if !strings.HasPrefix(path, Prefix+"/") {
			t.Errorf("%s is outside", path)
		}
	}
	if got := call(t, a, town.as("house"), "GET", "/docs", nil); got.Code != none {
		t.Error("a page that fetches scripts from elsewhere", got.Code)
	}
}

func TestTagsSaveSending(t *testing.T) {
	a, town := newAPI(t)
	boss := town.as("boss")
	first := call(t, a, boss, "GET", "/homes/mill-1", nil)
	tag := first.Header().Get("ETag")
	if tag == "" || first.Code != ok {
		t.Fatal(first.Code, tag)
	}
	for condition, want := range map[string]int{tag: 304, "W/" + tag: 304, `"x", ` + tag: 304, "*": 304, `"x"`: ok} {
		got := call(t, a, boss, "GET", "/homes/mill-1", nil, "If-None-Match", condition)
		if got.Code != want || want == 304 && got.Body.Len() > 0 {
			t.Errorf("%s: %d %s", condition, got.Code, got.Body)
		}
	}
	if got := call(t, a, town.as("house"), "GET", "/homes/quay-1", nil, "If-None-Match", "*"); got.Code != none {
		t.Error("a condition tells of a foreign home:", got.Code)
	}
}

// TestNobodyUndoesWhatAnotherDid changes a profile that has changed meanwhile.
func TestNobodyUndoesWhatAnotherDid(t *testing.T) {
	a, town := newAPI(t)
	boss := town.as("boss")
	seen := call(t, a, boss, "GET", "/homes/mill-1/profile", nil).Header().Get("ETag")
	put := func(name string, headers ...string) int {
		return call(t, a, boss, "PUT", "/homes/mill-1/profile", object{"profile": "id: mill-1\ntimezone: UTC\nname: " + name + "\n"}, headers...).Code
	}
	if code := put("first", "If-Match", seen); code != done {
		t.Error(code)
	}
	if code := put("second", "If-Match", seen); code != http.StatusPreconditionFailed {
		t.Error(code)
	}
	if text, _ := town.Profile(context.Background(), "mill-1"); !strings.Contains(text, "first") {
		t.Error(text)
	}
	if code := put("third"); code != done {
		t.Error("without a condition:", code)
	}
	for _, home := range []string{"quay-1", "nowhere"} { // 404 as without the condition, and not 412
		if got := call(t, a, boss, "DELETE", "/homes/"+home, nil, "If-Match", `"x"`); got.Code != none {
			t.Errorf("%s: %d", home, got.Code)
		}
	}
	c := call(t, a, boss, "POST", "/cases/case-mill-1/acts", object{"act": "acknowledged", "version": 1})
	if c.Code != ok || decode(t, c)["version"] != 2.0 {
		t.Error(c.Code, c.Body)
	}
	if c := call(t, a, boss, "POST", "/cases/case-mill-1/acts", object{"act": "note", "text": "x", "version": 1}); c.Code != http.StatusConflict {
		t.Error(c.Code, c.Body)
	}
}

func TestPages(t *testing.T) {
	a, town := newAPI(t)
	op := town.as("op")
	var seen []any
	for after, pages := "", 0; ; pages++ {
		got := decode(t, call(t, a, op, "GET", "/homes?limit=2&after="+url.QueryEscape(after), nil))
		for _, item := range got["items"].([]any) {
			seen = append(seen, item.(object)["id"])
		}
		if after, _ = got["next"].(string); after == "" {
			if pages != 1 {
				t.Errorf("%d pages", pages+1)
			}
			break
		}
		// What is added before the cursor, or taken away at it, moves nothing.
		town.profiles["a-first"] = "id: a-first\ntimezone: UTC\n"
		delete(town.profiles, "mill-2")
	}
	if !reflect.DeepEqual(seen, []any{"mill-1", "mill-2", "quay-1"}) {
		t.Error(seen)
	}
	for range 5 {
		town.Note(context.Background(), care.Deed{Firm: "north", Act: "x"})
	}
	first := decode(t, call(t, a, town.as("boss"), "GET", "/audit?limit=3", nil))
	second := decode(t, call(t, a, town.as("boss"), "GET", "/audit?limit=3&after="+first["next"].(string), nil))
	if len(first["items"].([]any)) != 3 || len(second["items"].([]any)) != 2 || second["next"] != nil {
		t.Error(first, second)
	}
	for _, path := range []string{"/homes?after=!", "/homes?limit=0", "/homes?limit=1000", "/homes?lmit=1", "/audit?after=!", "/audit?after=eA"} {
		if got := call(t, a, town.as("boss"), "GET", path, nil); got.Code != 422 {
			t.Errorf("%s: %d", path, got.Code)
		}
	}
}

// TestNobodyRises tries what a person or program could do to get more rights.
func TestNobodyRises(t *testing.T) {
	a, town := newAPI(t)
	boss, op := town.as("boss"), town.as("op")
	asToken := func(id string, scope care.Scope) context.Context {
		return access.WithToken(context.Background(), town.people[id], scope)
	}
	person := func(change object) object {
		p := object{"firm": "north", "role": "manager", "email": "boss@example.org", "name": "boss"}
		for k, v := range change {
			p[k] = v
		}
		return p
	}
	for name, c := range map[string]struct {
		ctx          context.Context
		method, path string
		body         any
		want         int
	}{
		"a manager makes themselves an operator":  {boss, "PUT", "/people/boss", person(object{"role": "operator", "firm": ""}), no},
		"a manager moves to another firm":         {boss, "PUT", "/people/boss", person(object{"firm": "south"}), none},
		"a manager makes an operator of another":  {boss, "PUT", "/people/tech", person(object{"role": "operator", "firm": ""}), no},
		"a manager takes a link of an operator":   {boss, "POST", "/people/op/link", nil, none},
		"a manager gives a household a home":      {boss, "PUT", "/people/house", person(object{"role": "household", "homes": []string{"quay-1"}}), 422},
		"... and one that does not exist":         {boss, "PUT", "/people/house", person(object{"role": "household", "homes": []string{"nowhere"}}), 422},
		"the last manager disables themselves":    {boss, "PUT", "/people/boss", person(object{"disabled": true}), http.StatusConflict},
		"the last manager removes themselves":     {boss, "DELETE", "/people/boss", nil, http.StatusConflict},
		"a manager moves a home to another firm":  {boss, "PUT", "/homes/mill-1/place", object{"firm": "south", "area": ""}, no},
		"a household becomes a manager by itself": {town.as("house"), "PUT", "/me", object{"name": "x", "role": "manager"}, 422},
		"a household looks at itself":             {town.as("house"), "GET", "/people/house", nil, ok},
		"a household adds itself a home":          {town.as("house"), "PUT", "/people/house", person(object{"homes": []string{"mill-2"}}), no},
		"a token makes a token":                   {asToken("boss", care.WriteScope), "POST", "/tokens", object{"name": "x", "scope": "write", "expires": "2026-04-01T00:00:00Z"}, no},
		"a token that reads writes":               {asToken("boss", care.ReadScope), "PUT", "/homes/mill-1/away", object{"away": []any{}}, no},
		"a token that reads redirects alerts":     {asToken("boss", care.ReadScope), "PUT", "/me", object{"name": "x"}, no},
		"a token for devices reads":               {asToken("boss", care.DevicesScope), "GET", "/homes/mill-1/points?signal=inlet_flow&from=2026-03-01T00:00:00Z&to=2026-03-02T00:00:00Z", nil, no},
		"a token for devices lists":               {asToken("boss", care.DevicesScope), "GET", "/cases", nil, ok}, // and is given none, see below
		"a token for devices adds one":            {asToken("boss", care.DevicesScope), "POST", "/homes/mill-1/devices", object{"id": "level", "name": "L"}, made},
		"... at another's home":                   {asToken("boss", care.DevicesScope), "POST", "/homes/quay-1/devices", object{"id": "level", "name": "L"}, none},
		"an operator reads a home's life":         {op, "GET", "/homes/mill-1/books", nil, no},
		"a path out of here":                      {boss, "GET", "/homes/..%2F..%2Fmetrics", nil, none},
		"a home of another id":                    {boss, "PUT", "/homes/mill-1/profile", object{"profile": "id: quay-1\ntimezone: UTC\n"}, 422},
	} {
		before := fmt.Sprint(town.people["boss"], town.people["house"], town.at)
		got := call(t, a, c.ctx, c.method, c.path, c.body)
		if got.Code != c.want {
			t.Errorf("%s: %d, want %d: %s", name, got.Code, c.want, got.Body)
		}
		if after := fmt.Sprint(town.people["boss"], town.people["house"], town.at); c.want >= 400 && after != before {
			t.Errorf("%s: something was done", name)
		}
		if strings.HasSuffix(name, "lists") && strings.Contains(got.Body.String(), "mill") {
			t.Errorf("%s: %s", name, got.Body)
		}
	}
	a1 := call(t, a, boss, "PUT", "/people/house", person(object{"role": "household", "homes": []string{"quay-1"}})).Body.String()
	a2 := call(t, a, boss, "PUT", "/people/house", person(object{"role": "household", "homes": []string{"nowhere"}})).Body.String()
	if strings.ReplaceAll(a1, "quay-1", "X") != strings.ReplaceAll(a2, "nowhere", "X") {
		t.Errorf("tells a foreign home from none:\n%s\n%s", a1, a2)
	}
}

// TestSecretsOfChannelsStayInside: they are taken, kept and never shown.
func TestSecretsOfChannelsStayInside(t *testing.T) {
	a, town := newAPI(t)
	boss := town.as("boss")
	put := func(channels ...object) int {
		return call(t, a, boss, "PUT", "/me", object{"name": "Boss", "channels": channels}).Code
	}
	if code := put(object{"kind": "gateway", "target": "chat://TOKEN@room"}, object{"kind": "webhook", "target": "https://example.org/in", "secret": "KEY", "from": "22:00", "to": "06:30"}); code != done {
		t.Fatal(code)
	}
	for _, path := range []string{"/me", "/people/boss", "/people"} {
		got := call(t, a, access.With(context.Background(), town.people["boss"]), "GET", path, nil)
		if got.Code != ok || strings.Contains(got.Body.String(), "TOKEN") || strings.Contains(got.Body.String(), "KEY") || !strings.Contains(got.Body.String(), `"22:00"`) {
			t.Errorf("%s: %s", path, got.Body)
		}
	}
	boss = access.With(context.Background(), town.people["boss"])
	if code := put(object{"kind": "gateway", "target": "chat://..."}, object{"kind": "webhook", "target": "https://example.org/in"}); code != done {
		t.Fatal(code)
	}
	if c := town.people["boss"].Channels; c[0].Target != "chat://TOKEN@room" || c[1].Secret != "KEY" {
		t.Errorf("what is not shown is lost: %+v", c)
	}
}

func TestLinksGoByMailWhereThereIsMail(t *testing.T) {
	var sent []string
	a, town := newAPI(t)
	got := decode(t, call(t, a, town.as("boss"), "POST", "/people/tech/link", nil))
	if got["link"] != "/link/SECRET" || got["sent"] != false {
		t.Error(got)
	}
	a, town = newAPI(t, func(o *Options) { o.SendLink = sendTo(&sent) })
	body := call(t, a, town.as("boss"), "POST", "/people/tech/link", nil).Body.String()
	if strings.Contains(body, "SECRET") || !reflect.DeepEqual(sent, []string{"tech@example.org /link/SECRET"}) {
		t.Error("whoever asks sees somebody's way in:", body, sent)
	}
}

func TestAFleet(t *testing.T) {
	a, town := newAPI(t)
	boss := town.as("boss")
	table := func(text string, dry bool) object {
		t.Helper()
		return decode(t, call(t, a, boss, "POST", fmt.Sprintf("/homes/import?dry_run=%v", dry), text))
	}
	const good = "id,timezone,devices\nlane-1,UTC,meter level\nlane-2,UTC,\n"
	for _, text := range []string{good, "id,timezone\nmill-1,UTC\nquay-1,UTC\n,\n", "id,timezone,firm\nlane-3,UTC,south\nlane-4,UTC,west\n", "id,timezone,devices\nlane-5,UTC,a a A\n"} {
		got := table(text, true)
		if len(town.profiles) != 3 || got["added"] != 0.0 {
			t.Fatal("a dry run does something", got)
		}
		if bad := got["bad"].([]any); (len(bad) == 0) != (text == good) {
			t.Errorf("%q: %v", text, bad)
		}
	}
	why := func(text string) string {
		bad := table(text, true)["bad"].([]any)
		return fmt.Sprint(bad[0].(object)["column"], bad[0].(object)["why"])
	}
	if why("id,timezone,firm\nx,UTC,south\n") != why("id,timezone,firm\nx,UTC,west\n") {
		t.Error("tells a foreign firm from none")
	}
	if got := table("id,timezone\nlane-1,UTC\nmill-1,UTC\n", false); got["added"] != 0.0 || len(town.profiles) != 3 {
		t.Error("with anything wrong nothing is done:", got)
	}
	got := table(good, false)
	if got["added"] != 2.0 || len(got["devices"].([]any)) != 2 || town.at["lane-1"].Firm != "north" {
		t.Error(got)
	}
	if big := call(t, a, boss, "POST", "/homes/import", strings.Repeat("x", maxFleet+1)); big.Code != http.StatusRequestEntityTooLarge {
		t.Error(big.Code)
	}
	if big := call(t, a, boss, "POST", "/homes", object{"profile": strings.Repeat("x", maxBody)}); big.Code != http.StatusRequestEntityTooLarge {
		t.Error(big.Code)
	}
}

func TestWhatIsWrongWithAProfile(t *testing.T) {
	a, town := newAPI(t)
	got := call(t, a, town.as("boss"), "POST", "/homes", object{"profile": "id: x\ntimezone: Nowhere/None\nlid: 3\n"})
	for _, want := range []string{"2: timezone", "3: lid: unknown key"} {
		if got.Code != 422 || !strings.Contains(got.Body.String(), want) {
			t.Errorf("%d, without %q: %s", got.Code, want, got.Body)
		}
	}
}

// TestWhereNobodySignsIn is the interface of a demonstration.
func TestWhereNobodySignsIn(t *testing.T) {
	a, _ := newAPI(t, func(o *Options) { o.People, o.ActsAs = nil, care.Person{ID: "you", Role: care.Manager} })
	ctx := context.Background()
	for path, want := range map[string]int{"/homes": ok, "/homes/quay-1/books": ok, "/homes/nowhere/books": none, "/cases/case-mill-1": ok, "/people": none, "/tokens": none, "/me": none} {
		if got := call(t, a, ctx, "GET", path, nil); got.Code != want {
			t.Errorf("%s: %d", path, got.Code)
		}
	}
	if got := call(t, a, ctx, "POST", "/cases/case-mill-1/acts", object{"act": "closed"}); got.Code != ok {
		t.Error(got.Code, got.Body)
	}
}

func TestDiagnosis(t *testing.T) {
	a, town := newAPI(t)
	got := decode(t, call(t, a, town.as("tech"), "POST", "/homes/mill-1/diagnose", object{"hardness": object{"cold_hardness": 300, "hot_hardness": 5}}))
	if len(got["causes"].([]any)) == 0 || got["next"] == nil {
		t.Error(got)
	}
	for _, body := range []object{{"symptoms": object{"nonsense": true}}, {"hardness": object{"battery": 3}}, {"checks": object{"x": "y"}}} {
		if got := call(t, a, town.as("tech"), "POST", "/homes/mill-1/diagnose", body); got.Code != 422 {
			t.Errorf("%v: %d", body, got.Code)
		}
	}
}

func TestOptionsAreChecked(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("an interface to nothing")
	}
}

// sendTo notes the links that are sent.
func sendTo(sent *[]string) func(context.Context, care.Person, string, time.Time, bool) error {
	return func(_ context.Context, p care.Person, link string, _ time.Time, _ bool) error {
		*sent = append(*sent, p.Email+" "+link)
		return nil
	}
}
