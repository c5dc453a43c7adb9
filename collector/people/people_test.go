package people

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// cheap hashing keeps the tests quick; TestPasswordCost is about the real one.
var cheap = Cost{Passes: 1, Memory: 8, Threads: 1}

// clock is the time of a test.
type clock struct{ now time.Time }

func (c *clock) pass(d time.Duration) { c.now = c.now.Add(d) }

// open makes a store with two firms, a home at each and one that nobody has.
func open(t testing.TB) (*Store, *clock) {
	t.Helper()
	c := &clock{time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	db, err := state.Open(context.Background(), filepath.Join(t.TempDir(), "state.db"), func() time.Time { return c.now })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	s := New(Options{DB: db, Cost: cheap})
	ctx := context.Background()
	for _, f := range []care.Firm{{ID: "north", Name: "North Shore Water"}, {ID: "south", Name: "Southmere"}} {
		if err := s.AddFirm(ctx, f); err != nil {
			t.Fatal(err)
		}
	}
	for home, firm := range map[string]string{"mill-1": "north", "mill-2": "north", "quay-1": "south", "new-1": ""} {
		if err := db.SaveHome(ctx, state.Home{ID: home, Profile: "id: " + home}); err != nil {
			t.Fatal(err)
		}
		if err := s.SetPlace(ctx, care.Place{Home: home, Firm: firm, Area: "harbour"}); err != nil {
			t.Fatal(err)
		}
	}
	return s, c
}

func household() care.Person {
	return care.Person{Firm: "north", Role: care.Household, Name: "Ann Weir", Email: "ann@example.org", Homes: []string{"mill-1"},
		Units: detect.US, Language: "en-IE", Timezone: "Europe/Dublin",
		Channels: []care.Channel{{Kind: care.Mail, Target: "ann@example.org", Least: detect.ActNow},
			{Kind: care.Webhook, Target: "https://example.org/in", Secret: "k", From: 22 * time.Hour, To: 6 * time.Hour, Digest: true}}}
}

func add(t testing.TB, s *Store, p care.Person) care.Person {
	t.Helper()
	p, err := s.Add(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestAPersonIsKeptWhole(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	p := add(t, s, household())
	same := func(want care.Person) {
		t.Helper()
		got, err := s.Person(ctx, p.ID)
		if err != nil || !slices.Equal(got.Homes, want.Homes) || !slices.Equal(got.Channels, want.Channels) {
			t.Fatalf("%+v %v", got, err)
		}
		got.Homes, got.Channels, want.Homes, want.Channels = nil, nil, nil, nil
		if got.ID != want.ID || got.Email != want.Email || got.Units != want.Units || got.Timezone != want.Timezone || got.Language != want.Language ||
			got.Role != want.Role || got.Firm != want.Firm || got.Name != want.Name || got.Disabled != want.Disabled {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	same(p)
	p.Homes, p.Channels, p.Name, p.Units = []string{"mill-1", "mill-2"}, p.Channels[1:], "Ann Brook", ""
	if err := s.Change(ctx, p); err != nil {
		t.Fatal(err)
	}
	same(p)
	if got, err := s.ByEmail(ctx, "ANN@example.org"); err != nil || got.ID != p.ID {
		t.Errorf("by another case of the address: %v %v", got, err)
	}
	if err := errors.Join(s.Remove(ctx, p.ID)); err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{s.Remove(ctx, p.ID), s.Change(ctx, p), s.SetPassword(ctx, p.ID, "correct horse battery")} {
		if !errors.Is(err, care.ErrNone) {
			t.Errorf("of somebody gone: %v", err)
		}
	}
}

func TestWhatCannotBeTaken(t *testing.T) {
	s, _ := open(t)
	add(t, s, household())
	for name, change := range map[string]func(*care.Person){
		"no name":             func(p *care.Person) { p.Name = " " },
		"two lines":           func(p *care.Person) { p.Name = "a\r\nBcc: b@example.org" },
		"no address":          func(p *care.Person) { p.Email = "ann" },
		"a header in address": func(p *care.Person) { p.Email = "ann@example.org\r\nBcc: b@example.org" },
		"a named address":     func(p *care.Person) { p.Email = "Ann <ann2@example.org>" },
		"an unknown role":     func(p *care.Person) { p.Role = "owner" },
		"a firm's operator":   func(p *care.Person) { p.Role = care.Operator; p.Homes = nil },
		"a household of none": func(p *care.Person) { p.Firm = "" },
		"a manager's homes":   func(p *care.Person) { p.Role = care.Manager },
		"unknown units":       func(p *care.Person) { p.Units = "imperial" },
		"an unknown zone":     func(p *care.Person) { p.Timezone = "Europe/Atlantis" },
		"a language":          func(p *care.Person) { p.Language = "en IE" },
		"plain http":          func(p *care.Person) { p.Channels[1].Target = "http://example.org" },
		"an unknown channel":  func(p *care.Person) { p.Channels[0].Kind = "pigeon" },
		"a line in a channel": func(p *care.Person) { p.Channels[0].Target = "a@example.org\nBcc: b@example.org" },
		"no gateway":          func(p *care.Person) { p.Channels[0] = care.Channel{Kind: care.Gateway, Target: "x"} },
		"no mail":             func(p *care.Person) { p.Channels[0].Target = "x" },
		"hours":               func(p *care.Person) { p.Channels[0].From = 25 * time.Hour },
	} {
		p := household()
		p.Email = "bob@example.org"
		change(&p)
		if _, err := s.Add(context.Background(), p); !errors.Is(err, care.ErrBad) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := s.Add(context.Background(), household()); !errors.Is(err, care.ErrTaken) {
		t.Errorf("the same address: %v", err)
	}
	p := household()
	p.Email, p.Firm = "bob@example.org", "west"
	if _, err := s.Add(context.Background(), p); !errors.Is(err, care.ErrNone) || !strings.Contains(err.Error(), "west") {
		t.Errorf("an unknown firm: %v", err)
	}
}

func TestFirms(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	if err := s.AddFirm(ctx, care.Firm{ID: "north", Name: "x"}); !errors.Is(err, care.ErrTaken) {
		t.Error(err)
	}
	for _, f := range []care.Firm{{ID: "North", Name: "x"}, {ID: "", Name: "x"}, {ID: "a/b", Name: "x"}, {ID: "a", Name: ""}, {ID: strings.Repeat("a", 41), Name: "x"}} {
		if err := s.AddFirm(ctx, f); !errors.Is(err, care.ErrBad) {
			t.Errorf("%v: %v", f, err)
		}
	}
	if err := s.RenameFirm(ctx, care.Firm{ID: "north", Name: "Northern"}); err != nil {
		t.Error(err)
	}
	if f, err := s.Firm(ctx, "north"); err != nil || f.Name != "Northern" {
		t.Error(f, err)
	}
	if _, err := s.Firm(ctx, "west"); !errors.Is(err, care.ErrNone) {
		t.Error(err)
	}
	if err := s.RenameFirm(ctx, care.Firm{ID: "west", Name: "x"}); !errors.Is(err, care.ErrNone) {
		t.Error(err)
	}
}

func TestWhoIsToldOfAHome(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	add(t, s, household())
	for name, p := range map[string]care.Person{
		"neighbour": {Firm: "north", Role: care.Household, Homes: []string{"mill-2"}},
		"tech":      {Firm: "north", Role: care.Technician}, "boss": {Firm: "north", Role: care.Manager},
		"gone": {Firm: "north", Role: care.Manager, Disabled: true}, "rival": {Firm: "south", Role: care.Manager}, "op": {Role: care.Operator},
	} {
		p.Name, p.Email = name, name+"@example.org"
		add(t, s, p)
	}
	told := func(home string) string {
		all, err := s.AtHome(ctx, home)
		if err != nil {
			t.Error(err)
		}
		names := []string{}
		for _, p := range all {
			names = append(names, p.Name)
		}
		return strings.Join(names, ", ")
	}
	if got := told("mill-1"); got != "Ann Weir, boss, tech" {
		t.Error(got)
	}
	if got := told("new-1"); got != "" {
		t.Errorf("a home without a firm tells %s", got)
	}
	if _, err := s.AtHome(ctx, "nowhere"); !errors.Is(err, care.ErrNone) {
		t.Error(err)
	}
	if all, err := s.People(ctx, "south"); err != nil || len(all) != 1 {
		t.Error(all, err)
	}
	if all, err := s.People(ctx, ""); err != nil || len(all) != 7 {
		t.Error(len(all), err)
	}
	if ops, err := s.Operators(ctx); err != nil || len(ops) != 1 || ops[0].Name != "op" {
		t.Error(ops, err)
	}
	if places, err := s.Places(ctx); err != nil || len(places) != 4 || places[0] != (care.Place{Home: "mill-1", Firm: "north", Area: "harbour"}) {
		t.Error(places, err)
	}
	for _, p := range []care.Place{{Home: "nowhere"}, {Home: "mill-1", Firm: "west"}} {
		if err := s.SetPlace(ctx, p); !errors.Is(err, care.ErrNone) {
			t.Errorf("%v: %v", p, err)
		}
	}
}

func TestAudit(t *testing.T) {
	s, c := open(t)
	ctx := context.Background()
	for i, firm := range []string{"north", "south", "north", "north"} {
		if err := s.Note(ctx, care.Deed{Person: "p", Firm: firm, Home: "mill-1", Act: "person added", Subject: string(rune('a' + i)), Address: "192.0.2.1"}); err != nil {
			t.Fatal(err)
		}
		c.pass(time.Minute)
	}
	page, err := s.Audit(ctx, care.DeedQuery{Firm: "north", Most: 2})
	if err != nil || len(page) != 2 || page[0].Subject != "d" || page[1].Subject != "c" || page[0].At.IsZero() {
		t.Fatal(page, err)
	}
	page, err = s.Audit(ctx, care.DeedQuery{Firm: "north", Home: "mill-1", Most: 2, Before: page[1].ID})
	if err != nil || len(page) != 1 || page[0].Subject != "a" || page[0].Address != "192.0.2.1" {
		t.Error(page, err)
	}
}
