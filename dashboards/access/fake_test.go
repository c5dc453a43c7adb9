package access

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"brinebell/detect/care"
)

// accounts are a few people that a test knows. The password of each is their
// id, four times over.
type accounts struct {
	mu     sync.Mutex // guards all below
	people map[string]care.Person
	epoch  map[string]int64
	links  map[string]string // to ids
	tokens map[string]care.Token
	deeds  []care.Deed
	broken error
}

func newAccounts() *accounts {
	a := &accounts{people: map[string]care.Person{}, epoch: map[string]int64{}, links: map[string]string{}, tokens: map[string]care.Token{}}
	for _, p := range []care.Person{
		{ID: "house", Role: care.Household, Firm: "north", Homes: []string{"mill-1"}},
		{ID: "tech", Role: care.Technician, Firm: "north"},
		{ID: "boss", Role: care.Manager, Firm: "north"},
		{ID: "op", Role: care.Operator},
	} {
		p.Name, p.Email = p.ID, p.ID+"@example.org"
		a.people[p.ID] = p
		for _, s := range care.Scopes() {
			a.tokens["token-"+p.ID+"-"+string(s)] = care.Token{ID: string(s), Person: p.ID, Scope: s}
		}
	}
	return a
}

func passwordOf(id string) string { return strings.Repeat(id+" ", 4) }

func (a *accounts) SignIn(_ context.Context, email, password string) (care.Person, int64, error) {
	p, err := a.ByEmail(context.Background(), email)
	if err != nil || password != passwordOf(p.ID) || p.Disabled {
		return care.Person{}, 0, care.ErrWrong
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	return p, a.epoch[p.ID], a.broken
}

func (a *accounts) Current(_ context.Context, id string, epoch int64) (care.Person, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.broken != nil {
		return care.Person{}, a.broken
	}
	if p, ok := a.people[id]; ok && a.epoch[id] == epoch && !p.Disabled {
		return p, nil
	}
	return care.Person{}, care.ErrWrong
}

func (a *accounts) ByToken(_ context.Context, secret string) (care.Person, care.Token, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	t, ok := a.tokens[secret]
	if !ok {
		return care.Person{}, t, care.ErrWrong
	}
	return a.people[t.Person], t, nil
}

func (a *accounts) ByEmail(_ context.Context, email string) (care.Person, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	id, _, _ := strings.Cut(email, "@")
	if p, ok := a.people[id]; ok {
		return p, nil
	}
	return care.Person{}, care.ErrNone
}

func (a *accounts) ByLink(_ context.Context, secret string) (care.Person, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if id, ok := a.links[secret]; ok {
		return a.people[id], nil
	}
	return care.Person{}, care.ErrWrong
}

func (a *accounts) UseLink(ctx context.Context, secret, password string) (care.Person, int64, error) {
	if len(password) < leastPassword {
		return care.Person{}, 0, fmt.Errorf("%w: the password is too short", care.ErrBad)
	}
	p, err := a.ByLink(ctx, secret)
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.links, secret)
	a.epoch[p.ID]++
	return p, a.epoch[p.ID], err
}

func (a *accounts) Introduce(ctx context.Context, secret, name, email string) error {
	p, err := a.ByLink(ctx, secret)
	if err != nil || !strings.Contains(email, "@") {
		return errors.Join(err, fmt.Errorf("%w: the e-mail address is not one", care.ErrBad))
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	p.Name, p.Email = name, email
	a.people[p.ID] = p
	return nil
}

func (a *accounts) Invite(_ context.Context, id string, _ time.Duration) (string, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	secret := fmt.Sprintf("link-%d", len(a.links))
	a.links[secret] = id
	return secret, nil
}

func (a *accounts) Place(_ context.Context, home string) (care.Place, error) {
	switch home {
	case "mill-1", "mill-2":
		return care.Place{Home: home, Firm: "north"}, nil
	case "quay-1":
		return care.Place{Home: home, Firm: "south"}, nil
	case "broken":
		return care.Place{}, io.ErrUnexpectedEOF
	}
	return care.Place{}, care.ErrNone
}

func (a *accounts) Note(_ context.Context, d care.Deed) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.deeds = append(a.deeds, d)
	return nil
}

func (a *accounts) did(act string) (n int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, d := range a.deeds {
		if d.Act == act {
			n++
		}
	}
	return n
}

// sessions keep sessions in memory.
type sessions struct {
	mu   sync.Mutex
	data map[string][]byte // guarded by mu
}

func (s *sessions) FindCtx(_ context.Context, token string) ([]byte, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	b, ok := s.data[token]
	return b, ok, nil
}

func (s *sessions) CommitCtx(_ context.Context, token string, b []byte, _ time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.data[token] = b
	return nil
}

func (s *sessions) DeleteCtx(_ context.Context, token string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.data, token)
	return nil
}

func (s *sessions) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}
func (s *sessions) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
func (s *sessions) Commit(token string, b []byte, t time.Time) error {
	return s.CommitCtx(context.Background(), token, b, t)
}

// mail is what was sent.
type mail struct{ sent chan string }

func (m *mail) SendLink(_ context.Context, p care.Person, link string, _ time.Time, _ bool) error {
	m.sent <- p.Email + " " + link
	return nil
}

// door is a gate in front of a page that says where the request arrived.
type door struct {
	*Gate
	accounts *accounts
	sessions *sessions
	mail     *mail
	server   *httptest.Server
	now      time.Time
}

func newDoor(t testing.TB, change ...func(*Options)) *door {
	t.Helper()
	d := &door{accounts: newAccounts(), sessions: &sessions{data: map[string][]byte{}}, mail: &mail{make(chan string, 8)}, now: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	o := Options{Accounts: d.accounts, Sessions: d.sessions, Mailer: d.mail, Now: func() time.Time { return d.now }, BaseURL: "http://homes.example",
		Rules: []Rule{{"GET /homes/{id}/set-up", care.SeeProfile}, {"POST /homes/{id}/set-up", care.SetUpHome}}}
	for _, f := range change {
		f(&o)
	}
	var err error
	if d.Gate, err = New(o); err != nil {
		t.Fatal(err)
	}
	d.server = httptest.NewServer(d.Protect(http.HandlerFunc(pretendPages)))
	t.Cleanup(d.server.Close)
	return d
}

// pretendPages stands for the pages.
func pretendPages(w http.ResponseWriter, r *http.Request) {
	if id, ok := homeOf(r.URL.Path); ok && id == noHome {
		http.Error(w, "No such home", http.StatusNotFound)
		return
	}
	if _, err := io.Copy(io.Discard, r.Body); err != nil {
		http.Error(w, "too much", http.StatusRequestEntityTooLarge)
		return
	}
	p, _ := From(r.Context())
	fmt.Fprintf(w, "%s %s seen by %s", r.Method, r.URL.Path, p.ID)
}

// browser is somebody's, with cookies and without following redirects.
func (d *door) browser(t testing.TB) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// answer is what came back.
type answer struct {
	status int
	body   string
	header http.Header
}

func do(t testing.TB, c *http.Client, r *http.Request) answer {
	t.Helper()
	res, err := c.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer{res.StatusCode, string(b), res.Header}
}

func (d *door) get(t testing.TB, c *http.Client, path string, headers ...string) answer {
	t.Helper()
	return d.send(t, c, http.MethodGet, path, nil, headers...)
}

func (d *door) send(t testing.TB, c *http.Client, method, path string, form url.Values, headers ...string) answer {
	t.Helper()
	r, err := http.NewRequest(method, d.server.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return do(t, c, r)
}

// signed is a browser in which somebody has signed in.
func (d *door) signed(t testing.TB, id string) *http.Client {
	t.Helper()
	c := d.browser(t)
	if a := d.send(t, c, http.MethodPost, "/sign-in", url.Values{"email": {id + "@example.org"}, "password": {passwordOf(id)}}); a.status != http.StatusSeeOther {
		t.Fatalf("sign in as %s: %d %s", id, a.status, a.body)
	}
	return c
}
