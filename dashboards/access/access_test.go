package access

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/detect/care"
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m)
}

// TestEveryPageForEveryone is the table of the pages: who gets what where. A
// home that is not theirs must give exactly what one that does not exist gives.
func TestEveryPageForEveryone(t *testing.T) {
	d := newDoor(t)
	const yes, no, none, out = http.StatusOK, http.StatusForbidden, http.StatusNotFound, http.StatusSeeOther
	for _, row := range []struct {
		method, path                    string
		stranger, house, tech, boss, op int
	}{
		{"GET", "/", out, yes, yes, yes, yes},
		{"GET", "/static/style.css", yes, yes, yes, yes, yes},
		{"GET", "/healthz", yes, yes, yes, yes, yes},
		{"GET", "/homes/mill-1", out, yes, yes, yes, no},
		{"GET", "/homes/mill-1/regenerations", out, yes, yes, yes, no},
		{"POST", "/homes/mill-1/symptoms", out, yes, yes, yes, no},
		{"GET", "/homes/mill-1/set-up", out, yes, yes, yes, yes},
		{"POST", "/homes/mill-1/set-up", out, no, yes, yes, yes},
		{"GET", "/homes/mill-2", out, none, yes, yes, no},
		{"POST", "/homes/mill-2/symptoms", out, none, yes, yes, no},
		{"GET", "/homes/quay-1", out, none, none, none, no},
		{"GET", "/homes/quay-1/regenerations", out, none, none, none, no},
		{"POST", "/homes/quay-1/symptoms", out, none, none, none, no},
		{"POST", "/homes/quay-1/set-up", out, none, none, none, yes},
		{"PUT", "/homes/mill-1", out, no, no, no, no}, // no rule, no way
		{"GET", "/homes/nowhere", out, none, none, none, none},
		{"POST", "/homes/nowhere/symptoms", out, none, none, none, none},
		{"GET", "/homes/mill-1/../quay-1", out, none, none, none, none},
		{"GET", "/homes/mill-1/%2e%2e/quay-1", out, none, none, none, none},
		{"GET", "/homes/mill-1%2f..%2fquay-1", out, none, none, none, none},
		{"GET", "//homes/quay-1", out, none, none, none, none},
	} {
		for i, who := range []string{"", "house", "tech", "boss", "op"} {
			c := d.browser(t)
			if who != "" {
				c = d.signed(t, who)
			}
			want := []int{row.stranger, row.house, row.tech, row.boss, row.op}[i]
			r, err := http.NewRequest(row.method, d.server.URL+row.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := do(t, c, r); got.status != want {
				t.Errorf("%s %s by %q: %d, want %d", row.method, row.path, who, got.status, want)
			}
		}
	}
}

// TestAForeignHomeLooksLikeNone compares whole answers, for each role and
// method, but for the time of day.
func TestAForeignHomeLooksLikeNone(t *testing.T) {
	d := newDoor(t)
	for _, who := range []string{"house", "tech", "boss"} {
		c := d.signed(t, who)
		for _, method := range []string{"GET", "POST", "PUT", "DELETE"} {
			for _, rest := range []string{"", "/", "/regenerations", "/set-up", "/x?y=z"} {
				foreign := d.send(t, c, method, "/homes/quay-1"+rest, nil)
				absent := d.send(t, c, method, "/homes/nowhere"+rest, nil)
				foreign.header.Del("Date")
				absent.header.Del("Date")
				if fmt.Sprint(foreign) != fmt.Sprint(absent) {
					t.Errorf("%s %s %s:\n%v\n%v", who, method, rest, foreign, absent)
				}
			}
		}
	}
}

func TestTokensAreForPrograms(t *testing.T) {
	d := newDoor(t)
	for _, row := range []struct {
		who, scope, method, path string
		want                     int
	}{
		{"tech", "read", "GET", "/api/v1/homes", 200}, {"tech", "write", "POST", "/api/v1/homes", 200},
		{"tech", "read", "GET", "/homes/mill-1", 403}, {"tech", "write", "GET", "/", 403}, {"boss", "devices", "GET", "/changes", 403},
		{"op", "read", "GET", "/metrics", 200}, {"tech", "all", "GET", "/", 401},
	} {
		got := d.send(t, d.browser(t), row.method, row.path, nil, "Authorization", "Bearer token-"+row.who+"-"+row.scope)
		if got.status != row.want {
			t.Errorf("%v: %d", row, got.status)
		}
	}
	// A token that is no good is not helped by a good session.
	if got := d.get(t, d.signed(t, "boss"), "/", "Authorization", "Bearer x"); got.status != http.StatusUnauthorized || got.header.Get("WWW-Authenticate") == "" {
		t.Error(got)
	}
	if got := d.get(t, d.browser(t), "/api/v1/homes"); got.status != http.StatusUnauthorized || got.header.Get("Content-Type") != "application/problem+json" {
		t.Error(got)
	}
	if got := d.get(t, d.browser(t), "/", "Authorization", "Basic Ym9zczpib3Nz"); got.status != http.StatusUnauthorized {
		t.Error(got)
	}
}

func TestMetricsAreForThisMachineAndOperators(t *testing.T) {
	d := newDoor(t)
	elsewhere := []string{"X-Forwarded-For", "192.0.2.7"}
	for want, headers := range map[int][]string{
		http.StatusOK:           nil,
		http.StatusUnauthorized: elsewhere,
		http.StatusForbidden:    append(elsewhere, "Authorization", "Bearer token-boss-read"),
	} {
		if got := d.get(t, d.browser(t), "/metrics", headers...); got.status != want {
			t.Errorf("%v: %d", headers, got.status)
		}
	}
}

// TestAPlantedSessionIsWorthNothing: an attacker makes somebody's browser hold a
// session that the attacker knows, before they sign in.
func TestAPlantedSessionIsWorthNothing(t *testing.T) {
	d := newDoor(t)
	at, _ := url.Parse(d.server.URL)
	name := cookieName(false)
	for planted, tokens := range map[string]string{"made up": "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", "of the attacker's own": ""} {
		if tokens == "" {
			attacker := d.signed(t, "tech")
			tokens = attacker.Jar.Cookies(at)[0].Value
		}
		victim := d.browser(t)
		victim.Jar.SetCookies(at, []*http.Cookie{{Name: name, Value: tokens}})
		d.send(t, victim, http.MethodPost, "/sign-in", url.Values{"email": {"boss@example.org"}, "password": {passwordOf("boss")}})
		if got := victim.Jar.Cookies(at)[0].Value; got == tokens {
			t.Errorf("%s: the session keeps its token", planted)
		}
		thief := d.browser(t)
		thief.Jar.SetCookies(at, []*http.Cookie{{Name: name, Value: tokens}})
		if got := d.get(t, thief, "/"); strings.Contains(got.body, "boss") {
			t.Errorf("%s: %s", planted, got.body)
		}
	}
}

func TestCookiesOverTLS(t *testing.T) {
	d := newDoor(t, func(o *Options) { o.BaseURL = "https://homes.example/" })
	got := d.send(t, d.browser(t), http.MethodPost, "/sign-in", url.Values{"email": {"boss@example.org"}, "password": {passwordOf("boss")}})
	cookie := got.header.Get("Set-Cookie")
	for _, want := range []string{"__Host-brinebell=", "; Path=/", "; HttpOnly", "; Secure", "; SameSite=Lax"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("%q lacks %q", cookie, want)
		}
	}
	if strings.Contains(cookie, "Domain") {
		t.Error(cookie)
	}
}

// TestOtherSitesChangeNothing is about forged requests (CSRF), of a browser that
// says where they come from in either way.
func TestOtherSitesChangeNothing(t *testing.T) {
	d := newDoor(t)
	boss := d.signed(t, "boss")
	for _, path := range []string{"/homes/mill-1/symptoms", "/sign-in", "/sign-out", "/forgotten", "/link/x", "/api/v1/homes"} {
		for _, headers := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://evil.example"}, {"Origin", "null"}} {
			if got := d.send(t, boss, http.MethodPost, path, url.Values{}, headers...); got.status != http.StatusForbidden {
				t.Errorf("%s %v: %d", path, headers, got.status)
			}
		}
	}
	if got := d.send(t, boss, http.MethodPost, "/homes/mill-1/symptoms", url.Values{}, "Sec-Fetch-Site", "same-origin"); got.status != http.StatusOK {
		t.Error("one's own page:", got.status)
	}
	if got := d.get(t, boss, "/"); got.status != http.StatusOK {
		t.Error("signed out by another site:", got.status)
	}
	open := Open(http.HandlerFunc(pretendPages))
	r, _ := http.NewRequest(http.MethodPost, "http://127.0.0.1/homes/mill-1/symptoms", http.NoBody)
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := &recorder{header: http.Header{}}
	if open.ServeHTTP(w, r); w.status != http.StatusForbidden {
		t.Error("the open pages:", w.status)
	}
}

type recorder struct {
	header http.Header
	status int
	bytes.Buffer
}

func (r *recorder) Header() http.Header { return r.header }
func (r *recorder) WriteHeader(s int)   { r.status = s }

func TestSessionsEnd(t *testing.T) {
	d := newDoor(t)
	boss, tech := d.signed(t, "boss"), d.signed(t, "tech")
	if got := d.send(t, boss, http.MethodPost, "/sign-out", url.Values{}); got.status != http.StatusSeeOther || got.header.Get("Clear-Site-Data") == "" {
		t.Error(got)
	}
	if got := d.get(t, boss, "/"); got.header.Get("Location") != "/sign-in" {
		t.Error("signed out:", got)
	}
	if len(d.sessions.data) != 1 {
		t.Error("sessions left:", len(d.sessions.data))
	}
	d.accounts.epoch["tech"]++ // as by a new password
	if got := d.get(t, tech, "/homes/mill-1"); got.header.Get("Location") != "/sign-in?to=%2Fhomes%2Fmill-1" {
		t.Error("an earlier epoch:", got)
	}
	if got := d.get(t, tech, "/sign-out"); got.status != http.StatusMethodNotAllowed {
		t.Error("a picture that signs out:", got.status)
	}
}

func TestNobodyIsSentElsewhere(t *testing.T) {
	for to, want := range map[string]string{"/homes/mill-1?x=1": "/homes/mill-1?x=1", "": "/", "//evil.example": "/", "https://evil.example/": "/", "/\\evil.example": "/",
		"javascript:alert(1)": "/", "/\t/evil.example": "/", "evil": "/", "/x/..//evil.example": "/x/..//evil.example", "/sign-out": "/", "/%0d%0aSet-Cookie:x": "/%0d%0aSet-Cookie:x", "::": "/"} {
		if got := inside(to); got != want {
			t.Errorf("%q: %q, want %q", to, got, want)
		}
	}
	d := newDoor(t)
	got := d.send(t, d.browser(t), http.MethodPost, "/sign-in", url.Values{"email": {"boss@example.org"}, "password": {passwordOf("boss")}, "to": {"https://evil.example"}})
	if got.header.Get("Location") != "/" {
		t.Error(got.header)
	}
}

func TestWrongIsWrong(t *testing.T) {
	d := newDoor(t)
	try := func(email, password string) answer {
		a := d.send(t, d.browser(t), http.MethodPost, "/sign-in", url.Values{"email": {email}, "password": {password}})
		a.body = strings.ReplaceAll(a.body, email, "ADDRESS")
		a.header.Del("Date")
		a.header.Del("Content-Length")
		return a
	}
	known, unknown := try("boss@example.org", "x"), try("nobody@example.org", "x")
	if known.status != http.StatusUnauthorized || fmt.Sprint(known) != fmt.Sprint(unknown) {
		t.Errorf("%v\n%v", known, unknown)
	}
	d.accounts.broken = errors.New("disk full: /var/lib")
	if got := try("boss@example.org", passwordOf("boss")); got.status != http.StatusInternalServerError || strings.Contains(got.body, "disk") {
		t.Error(got)
	}
}

func TestALinkSetsThePassword(t *testing.T) {
	d := newDoor(t)
	d.accounts.links["L1"] = "tech"
	c := d.browser(t)
	page := d.get(t, c, "/link/L1")
	if page.status != http.StatusOK || page.header.Get("Referrer-Policy") != "no-referrer" || page.header.Get("Cache-Control") != "no-store" || !strings.Contains(page.body, "tech@example.org") {
		t.Error(page)
	}
	set := func(password, again string) answer {
		return d.send(t, c, http.MethodPost, "/link/L1", url.Values{"password": {password}, "again": {again}})
	}
	if got := set("short", "short"); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "The password is too short.") {
		t.Error(got)
	}
	if got := set(passwordOf("tech"), "other"); got.status != http.StatusUnprocessableEntity {
		t.Error(got)
	}
	if got := set(passwordOf("tech"), passwordOf("tech")); got.status != http.StatusSeeOther {
		t.Error(got)
	}
	if got := d.get(t, c, "/"); !strings.Contains(got.body, "seen by tech") {
		t.Error("not signed in:", got)
	}
	for _, got := range []answer{d.get(t, c, "/link/L1"), set(passwordOf("tech"), passwordOf("tech")), d.get(t, c, "/link/never")} {
		if got.status != http.StatusNotFound || !strings.Contains(got.body, "no longer good") {
			t.Error(got)
		}
	}
	if d.accounts.did("password set") != 1 {
		t.Error("not in the audit trail")
	}
}

func TestAForgottenPassword(t *testing.T) {
	d := newDoor(t)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error)
	go func() { ended <- d.Run(ctx) }()
	var answers []answer
	for _, email := range []string{"nobody@example.org", "boss@example.org"} {
		a := d.send(t, d.browser(t), http.MethodPost, "/forgotten", url.Values{"email": {email}})
		a.header.Del("Date")
		answers = append(answers, a)
	}
	if fmt.Sprint(answers[0]) != fmt.Sprint(answers[1]) {
		t.Error("tells who has an account", answers)
	}
	if got := <-d.mail.sent; got != "boss@example.org http://homes.example/link/link-0" {
		t.Error(got)
	}
	cancel()
	if err := <-ended; err != nil || len(d.mail.sent) != 0 {
		t.Error(err)
	}
}

func TestWithoutMail(t *testing.T) {
	d := newDoor(t, func(o *Options) { o.Mailer = nil })
	for _, path := range []string{"/sign-in", "/forgotten", "/link/x"} {
		if got := d.get(t, d.browser(t), path); strings.Contains(got.body, "Send me") || !strings.Contains(got.body, "Ask") {
			t.Error(path, got.body)
		}
	}
}

func TestGuessingIsSlow(t *testing.T) {
	d := newDoor(t)
	try := func(password string) answer {
		return d.send(t, d.browser(t), http.MethodPost, "/sign-in", url.Values{"email": {"Boss@example.org"}, "password": {password}})
	}
	for range perPair.free {
		if got := try("x"); got.status != http.StatusUnauthorized {
			t.Fatal(got)
		}
	}
	if got := try(passwordOf("boss")); got.status != http.StatusTooManyRequests || got.header.Get("Retry-After") != "30" || !strings.Contains(got.body, "a minute") {
		t.Error(got)
	}
}

func TestThrottle(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	th := NewThrottle(func() time.Time { return now })
	home, office := netip.MustParseAddr("192.0.2.1"), netip.MustParseAddr("198.51.100.1")
	tries := func(account string, from netip.Addr, n int) (longest time.Duration) {
		for range n {
			wait := th.Try(account, from)
			now = now.Add(wait)
			longest = max(longest, wait)
		}
		return longest
	}
	if tries("a", home, 5) != 0 || th.Try("a", home) != 30*time.Second {
		t.Error("the sixth attempt is let through")
	}
	if th.Try("a", office) != 0 {
		t.Error("somebody elsewhere keeps the account's owner out")
	}
	if got := tries("a", home, 20); got != time.Hour {
		t.Errorf("the wait grows to %v", got)
	}
	th.Succeeded("a", home)
	if th.Try("A ", home) != 0 {
		t.Error("forgiven once it proved right")
	}
	now = now.Add(2 * forgetAfter)
	for i := range 30 {
		if th.Try(fmt.Sprint("b", i), home) != 0 {
			t.Fatal(i)
		}
	}
	if th.Try("c", home) == 0 {
		t.Error("one address may try any number of accounts")
	}
	first, same := netip.MustParseAddr("2001:db8::1"), netip.MustParseAddr("2001:db8::ffff")
	tries("d", first, 5)
	if th.Try("d", same) == 0 {
		t.Error("a subscriber's other addresses are others")
	}
	for i := range 2 * perAccount.free {
		th.Try("e", netip.AddrFrom4([4]byte{10, byte(i / 200), byte(i % 200), 1}))
	}
	if th.Try("e", netip.MustParseAddr("203.0.113.9")) == 0 {
		t.Error("many addresses may try one account as often as they like: SP 800-63B allows 100 at most")
	}
	for i := range 3 * maxTracked {
		th.Try(fmt.Sprint("f", i), netip.AddrFrom4([4]byte{11, byte(i >> 16), byte(i >> 8), byte(i)}))
	}
	if n := len(th.failed); n > maxTracked+3 {
		t.Errorf("%d tracked", n)
	}
}

func TestWhereARequestComesFrom(t *testing.T) {
	proxies := []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("::1/128")}
	for _, c := range []struct{ peer, forwarded, want string }{
		{"192.0.2.1:5", "", "192.0.2.1"}, {"192.0.2.1:5", "203.0.113.1", "192.0.2.1"}, {"10.0.0.1:5", "203.0.113.1", "203.0.113.1"},
		{"10.0.0.1:5", "1.2.3.4, 203.0.113.1", "203.0.113.1"}, {"10.0.0.1:5", "203.0.113.1, 10.0.0.2", "203.0.113.1"},
		{"10.0.0.1:5", "nonsense", "10.0.0.1"}, {"[::1]:5", "203.0.113.1", "203.0.113.1"}, {"[::ffff:10.0.0.1]:5", "203.0.113.1", "203.0.113.1"}, {"pipe", "", "invalid IP"},
	} {
		r := &http.Request{RemoteAddr: c.peer, Header: http.Header{}}
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
		}
		if got := Address(r, proxies).String(); got != c.want {
			t.Errorf("%v: %s", c, got)
		}
	}
}

// TestOversizedBodies sends too much, said beforehand and not.
func TestOversizedBodies(t *testing.T) {
	d := newDoor(t)
	boss := d.signed(t, "boss")
	big := url.Values{"x": {strings.Repeat("x", maxBody)}}
	for _, path := range []string{"/homes/mill-1/symptoms", "/sign-in", "/api/v1/homes"} {
		if got := d.send(t, boss, http.MethodPost, path, big); got.status != http.StatusRequestEntityTooLarge {
			t.Errorf("%s: %d", path, got.status)
		}
		r, _ := http.NewRequest(http.MethodPost, d.server.URL+path, struct{ *strings.Reader }{strings.NewReader(big.Encode())}) // of unknown length
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if got := do(t, boss, r); got.status != http.StatusRequestEntityTooLarge {
			t.Errorf("%s, in pieces: %d", path, got.status)
		}
	}
	if got := d.send(t, boss, http.MethodPost, "/api/v1/homes/import", big); got.status != http.StatusOK {
		t.Errorf("a fleet: %d", got.status)
	}
}

// TestASlowClientIsCutOff sends a body that never ends.
func TestASlowClientIsCutOff(t *testing.T) {
	if bodyTime > time.Minute || answerTime > 2*time.Minute {
		t.Error("a slow client holds a connection for long")
	}
	read := make(chan error, 1)
	h := bounded(patternMux(nil), http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		_, err := r.Body.Read(make([]byte, 1))
		read <- err
	}))
	client, server := net.Pipe()
	defer client.Close()
	deadlines := make(chan time.Time, 16)
	s := &http.Server{Handler: h, ReadHeaderTimeout: time.Minute}
	l := &oneConn{conn: &watched{server, deadlines}, done: make(chan struct{})}
	go func() { _ = s.Serve(l) }()
	defer func() { _ = s.Close() }()
	began := time.Now()
	if _, err := fmt.Fprint(client, "POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 10\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	for at := range deadlines { // the header's, then none, then the body's
		if left := at.Sub(began); left > 0 && left <= bodyTime+5*time.Second {
			break
		}
	}
	if err := server.SetReadDeadline(time.Unix(1, 0)); err != nil { // as if that had passed
		t.Fatal(err)
	}
	if err := <-read; err == nil {
		t.Error("the body goes on")
	}
}

// watched tells of each deadline for reading that is set.
type watched struct {
	net.Conn
	deadlines chan time.Time
}

func (w *watched) SetReadDeadline(t time.Time) error {
	select {
	case w.deadlines <- t:
	default:
	}
	return w.Conn.SetReadDeadline(t)
}

// oneConn is a listener that gives one connection.
type oneConn struct {
	conn net.Conn
	done chan struct{}
	once sync.Once
}

func (l *oneConn) Accept() (net.Conn, error) {
	if c := l.conn; c != nil {
		l.conn = nil
		return c, nil
	}
	<-l.done
	return nil, net.ErrClosed
}
func (l *oneConn) Close() error   { l.once.Do(func() { close(l.done) }); return nil }
func (l *oneConn) Addr() net.Addr { return &net.TCPAddr{} }

// TestNoSecretIsLogged signs in and out, wrongly too, with a link and with
// tokens, and looks for what must not be in the log.
func TestNoSecretIsLogged(t *testing.T) {
	var log bytes.Buffer
	d := newDoor(t, func(o *Options) {
		o.Logger = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	})
	d.accounts.links["SECRETLINK"] = "tech"
	d.signed(t, "boss")
	c := d.browser(t)
	d.send(t, c, http.MethodPost, "/sign-in", url.Values{"email": {"boss@example.org"}, "password": {"SECRETPASSWORD"}})
	d.get(t, c, "/link/SECRETLINK")
	d.get(t, c, "/", "Authorization", "Bearer SECRETTOKEN")
	d.accounts.broken = errors.New("x")
	d.get(t, d.browser(t), "/")
	d.send(t, c, http.MethodPost, "/sign-in", url.Values{"email": {"boss@example.org"}, "password": {passwordOf("boss")}})
	text := log.String()
	if text == "" {
		t.Error("nothing is logged at all")
	}
	for _, secret := range []string{"SECRET", passwordOf("boss")} {
		if strings.Contains(text, secret) {
			t.Error(text)
		}
	}
}

func TestOptions(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("a gate without accounts")
	}
	if May(context.Background(), care.RemoveHome, care.Place{Home: "x"}) != true {
		t.Error("open pages are closed")
	}
}

// TestTheFirstAccount is the page that a new installation prints the address of.
func TestTheFirstAccount(t *testing.T) {
	d := newDoor(t)
	p := d.accounts.people["op"]
	p.Email = care.Newcomer
	d.accounts.people["op"], d.accounts.links["L1"] = p, "op"
	c := d.browser(t)
	if page := d.get(t, c, "/link/L1"); !strings.Contains(page.body, `name="name"`) || strings.Contains(page.body, care.Newcomer) {
		t.Error(page.body)
	}
	form := url.Values{"name": {"Olga"}, "email": {"olga"}, "password": {passwordOf("olga")}, "again": {passwordOf("olga")}}
	if got := d.send(t, c, http.MethodPost, "/link/L1", form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "Olga") {
		t.Error(got)
	}
	form.Set("email", "olga@example.org")
	if got := d.send(t, c, http.MethodPost, "/link/L1", form); got.status != http.StatusSeeOther || d.accounts.people["op"].Name != "Olga" {
		t.Error(got)
	}
}

func TestScopesLimitWhatOneMay(t *testing.T) {
	tech := newAccounts().people["tech"]
	at := care.Place{Home: "mill-1", Firm: "north"}
	for _, c := range []struct {
		scope  care.Scope
		action care.Action
		want   bool
	}{{care.ReadScope, care.SeeLife, true}, {care.ReadScope, care.Settle, false}, {care.WriteScope, care.Settle, true}, {care.WriteScope, care.RemoveHome, false},
		{care.DevicesScope, care.SetUpDevices, true}, {care.DevicesScope, care.SeeLife, false}} {
		if got := May(WithToken(context.Background(), tech, c.scope), c.action, at); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}
