package api

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// route is a row of the table: an operation and what each role gets, at its own
// and at a foreign home, firm or person. The path has {home}, {case}, {firm},
// {person} or {token} for the thing that is own or foreign.
//
// Columns: household, technician, manager, operator. For an operator everything
// is there; what is the home's life is forbidden.
type route struct {
	method, path string
	body         any
	own, foreign [4]int
}

const (
	ok, made, done, no, none = http.StatusOK, http.StatusCreated, http.StatusNoContent, http.StatusForbidden, http.StatusNotFound
	out                      = -1 // not for this row
)

var routes = []route{
	{"GET", "/homes", nil, [4]int{ok, ok, ok, ok}, [4]int{ok, ok, ok, ok}},
	{"POST", "/homes", object{"profile": "id: new\ntimezone: UTC\n", "firm": "FIRM"}, [4]int{no, made, made, made}, [4]int{no, no, no, made}},
	{"POST", "/homes/import?dry_run=true", "id,timezone\nx,UTC\n", [4]int{no, ok, ok, ok}, [4]int{no, ok, ok, ok}},
	{"GET", "/homes/{home}", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"GET", "/homes/{home}/profile", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"PUT", "/homes/{home}/profile", object{"profile": "id: HOME\ntimezone: UTC\n"}, [4]int{no, done, done, done}, [4]int{none, none, none, done}},
	{"GET", "/homes/{home}/away", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"PUT", "/homes/{home}/away", object{"away": []object{{"from": "2026-08-01", "to": "2026-08-02"}}}, [4]int{done, done, done, no}, [4]int{none, none, none, no}},
	{"GET", "/homes/{home}/place", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"PUT", "/homes/{home}/place", object{"firm": "FIRM", "area": "harbour"}, [4]int{no, done, done, done}, [4]int{none, none, none, done}},
	{"GET", "/homes/{home}/export", nil, [4]int{ok, no, ok, ok}, [4]int{none, none, none, ok}},
	{"DELETE", "/homes/{home}", nil, [4]int{no, no, done, done}, [4]int{none, none, none, done}},
	{"GET", "/alerts", nil, [4]int{ok, ok, ok, no}, [4]int{ok, ok, ok, no}},
	{"GET", "/homes/{home}/alerts", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/homes/{home}/books", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/homes/{home}/regenerations", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/homes/{home}/signals", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/homes/{home}/points?signal=inlet_flow&from=2026-03-01T00:00:00Z&to=2026-03-02T00:00:00Z", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/cases", nil, [4]int{ok, ok, ok, no}, [4]int{ok, ok, ok, no}},
	{"GET", "/cases?home={home}", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/cases/{case}", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"POST", "/cases/{case}/acts", object{"act": "acknowledged"}, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"POST", "/cases/{case}/acts", object{"act": "closed"}, [4]int{no, ok, ok, no}, [4]int{none, none, none, no}},
	{"POST", "/cases/{case}/acts", object{"act": "raised"}, [4]int{422, 422, 422, no}, [4]int{none, none, none, no}},
	{"GET", "/symptoms", nil, [4]int{ok, ok, ok, ok}, [4]int{ok, ok, ok, ok}},
	{"GET", "/homes/{home}/reports", nil, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"POST", "/homes/{home}/reports", object{"hardness": object{"raw_hardness": 300}}, [4]int{done, done, done, no}, [4]int{none, none, none, no}},
	{"POST", "/homes/{home}/diagnose", object{}, [4]int{ok, ok, ok, no}, [4]int{none, none, none, no}},
	{"GET", "/confirmations?firm={firm}", nil, [4]int{no, ok, ok, no}, [4]int{no, none, none, no}},
	{"DELETE", "/confirmations/{confirmation}", nil, [4]int{no, done, done, no}, [4]int{no, none, none, no}},
	{"GET", "/homes/{home}/devices", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"POST", "/homes/{home}/devices", object{"id": "level", "name": "Level"}, [4]int{no, made, made, made}, [4]int{none, none, none, made}},
	{"GET", "/homes/{home}/devices/meter", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"PUT", "/homes/{home}/devices/meter", object{"name": "Main"}, [4]int{no, done, done, done}, [4]int{none, none, none, done}},
	{"DELETE", "/homes/{home}/devices/meter", nil, [4]int{no, done, done, done}, [4]int{none, none, none, done}},
	{"POST", "/homes/{home}/devices/meter/password", nil, [4]int{no, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"GET", "/me", nil, [4]int{ok, ok, ok, ok}, [4]int{ok, ok, ok, ok}},
	{"PUT", "/me", object{"name": "Ann"}, [4]int{done, done, done, done}, [4]int{done, done, done, done}},
	{"GET", "/people?firm={firm}", nil, [4]int{no, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"POST", "/people", object{"firm": "FIRM", "role": "technician", "email": "x@example.org", "name": "X"}, [4]int{no, no, made, made}, [4]int{none, none, none, made}},
	{"POST", "/people", object{"firm": "", "role": "operator", "email": "x@example.org", "name": "X"}, [4]int{no, no, no, made}, [4]int{no, no, no, made}},
	{"GET", "/people/{person}", nil, [4]int{none, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"PUT", "/people/{person}", object{"firm": "FIRM", "role": "household", "email": "x@example.org", "name": "X"}, [4]int{none, no, done, done}, [4]int{none, none, none, done}},
	{"DELETE", "/people/{person}", nil, [4]int{none, no, done, done}, [4]int{none, none, none, done}},
	{"POST", "/people/{person}/link", nil, [4]int{none, no, ok, ok}, [4]int{none, none, none, ok}},
	{"GET", "/people/op", nil, [4]int{none, none, none, ok}, [4]int{out, out, out, out}},
	{"DELETE", "/people/op", nil, [4]int{none, none, none, 409}, [4]int{out, out, out, out}},
	{"POST", "/people/op/link", nil, [4]int{none, none, none, ok}, [4]int{out, out, out, out}},
	{"GET", "/tokens", nil, [4]int{ok, ok, ok, ok}, [4]int{ok, ok, ok, ok}},
	{"POST", "/tokens", object{"name": "x", "scope": "read", "expires": "2026-04-01T00:00:00Z"}, [4]int{made, made, made, made}, [4]int{made, made, made, made}},
	{"DELETE", "/tokens/{token}", nil, [4]int{done, done, done, done}, [4]int{none, none, none, none}},
	{"GET", "/firms", nil, [4]int{ok, ok, ok, ok}, [4]int{ok, ok, ok, ok}},
	{"GET", "/firms/{firm}", nil, [4]int{ok, ok, ok, ok}, [4]int{none, none, none, ok}},
	{"POST", "/firms", object{"id": "west", "name": "West"}, [4]int{no, no, no, made}, [4]int{no, no, no, made}},
	{"PUT", "/firms/{firm}", object{"name": "N"}, [4]int{no, no, no, done}, [4]int{none, none, none, done}},
	{"GET", "/audit?firm={firm}", nil, [4]int{no, no, ok, ok}, [4]int{none, none, none, ok}},
	{"GET", "/refused", nil, [4]int{no, no, no, ok}, [4]int{no, no, no, ok}},
}

// things are what stands for each placeholder.
func things(who string, foreign bool) map[string]string {
	if foreign {
		return map[string]string{"{home}": "quay-1", "{case}": "case-quay-1", "{firm}": "south", "{person}": "rival", "{token}": "token-rival", "{confirmation}": "8", "HOME": "quay-1", "FIRM": "south"}
	}
	return map[string]string{"{home}": "mill-1", "{case}": "case-mill-1", "{firm}": "north", "{person}": "neighbour", "{token}": "token-" + who, "{confirmation}": "7", "HOME": "mill-1", "FIRM": "north"}
}

// absent are names of things that do not exist.
var absent = map[string]string{"{home}": "nowhere", "{case}": "case-nowhere", "{firm}": "west", "{person}": "nobody", "{token}": "token-nobody", "{confirmation}": "9", "HOME": "nowhere", "FIRM": "west"}

func fill(text string, with map[string]string) string {
	for from, to := range with {
		text = strings.ReplaceAll(text, from, to)
	}
	return text
}

func filled(t *testing.T, body any, with map[string]string) any {
	t.Helper()
	if _, isJSON := body.(object); !isJSON {
		return body
	}
	text, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	var out object
	if err := json.Unmarshal([]byte(fill(string(text), with)), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestEveryRouteForEveryone is the table of accounts: every operation, for every
// role, at an own and at a foreign home.
func TestEveryRouteForEveryone(t *testing.T) {
	described := map[string]bool{}
	a, town := newAPI(t)
	for _, r := range routes {
		path, _, _ := strings.Cut(r.path, "?")
		described[r.method+" "+path] = true
		for i, who := range []string{"house", "tech", "boss", "op"} {
			for _, foreign := range []bool{false, true} {
				want := r.own[i]
				if foreign {
					want = r.foreign[i]
				}
				if want == out {
					continue
				}
				town.town = newTown()
				with := things(who, foreign)
				got := call(t, a, town.as(who), r.method, fill(r.path, with), filled(t, r.body, with))
				if got.Code != want {
					t.Errorf("%s %s by %s, foreign %v: %d, want %d: %s", r.method, r.path, who, foreign, got.Code, want, got.Body)
				}
				if got.Code >= 400 && got.Header().Get("Content-Type") != "application/problem+json" {
					t.Errorf("%s %s by %s: %d is no RFC 9457 problem: %s", r.method, r.path, who, got.Code, got.Header().Get("Content-Type"))
				}
				if r.method == "GET" && foreign && want == ok && who != "op" {
					for _, leak := range []string{"quay-1", "south", "Southmere", "rival"} {
						if strings.Contains(got.Body.String(), leak) {
							t.Errorf("%s %s by %s tells of %s: %s", r.method, r.path, who, leak, got.Body)
						}
					}
				}
			}
		}
	}
	for path, item := range a.huma.OpenAPI().Paths {
		for method, operation := range map[string]any{"GET": item.Get, "POST": item.Post, "PUT": item.Put, "DELETE": item.Delete} {
			name := method + " " + strings.TrimPrefix(path, Prefix)
			name = strings.NewReplacer("{device}", "meter", "{id}", "{confirmation}").Replace(name)
			if fmt.Sprint(operation) != "<nil>" && !described[name] && !lasting(path) {
				t.Errorf("%s is not in the table", name)
			}
		}
	}
}

// TestNothingTellsWhatThereIs compares whole answers about what is somebody
// else's with those about what does not exist.
func TestNothingTellsWhatThereIs(t *testing.T) {
	compared := 0
	a, town := newAPI(t)
	for _, r := range routes {
		for i, who := range []string{"house", "tech", "boss"} {
			if r.foreign[i] != none {
				continue
			}
			town.town = newTown()
			answer := func(with map[string]string) string {
				got := call(t, a, town.as(who), r.method, fill(r.path, with), filled(t, r.body, with))
				return fmt.Sprint(got.Code, got.Header(), got.Body)
			}
			compared++
			if theirs, nobodys := answer(things(who, true)), answer(absent); theirs != nobodys {
				t.Errorf("%s %s by %s:\n%s\n%s", r.method, r.path, who, theirs, nobodys)
			}
			if len(town.deeds) > 0 {
				t.Errorf("%s %s by %s did something", r.method, r.path, who)
			}
		}
	}
	if compared < 60 {
		t.Errorf("only %d compared", compared)
	}
}
