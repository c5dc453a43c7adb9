package telling

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"errors"
	"io"
	"log"
	"log/slog"
	"net"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"brinebell/collector/casebook"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// noon is a Sunday's in London.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// mailbox is a real mail server that keeps what it is given.
type mailbox struct {
	listener net.Listener
	server   *smtp.Server

	mu     sync.Mutex // guards mails and refuse
	mails  []received
	refuse map[string]int // codes by recipient
}

type received struct {
	to   []string
	data []byte
}

// openMailbox serves at an address; port 0 takes a free one.
func openMailbox(t *testing.T, address string) *mailbox {
	t.Helper()
	return serveMailbox(t, address, func(*smtp.Server, *mailbox) {})
}

// serveMailbox is the same with a server set up otherwise.
func serveMailbox(t *testing.T, address string, setUp func(*smtp.Server, *mailbox)) *mailbox {
	t.Helper()
	m := &mailbox{refuse: map[string]int{}}
	var err error
	if m.listener, err = net.Listen("tcp", address); err != nil {
		t.Fatal(err)
	}
	m.server = smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &session{box: m}, nil }))
	m.server.Domain = "mail.test"
	m.server.ErrorLog = log.New(io.Discard, "", 0) // of connections that a kill cuts
	setUp(m.server, m)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = m.server.Serve(m.listener)
	}()
	t.Cleanup(func() {
		_ = m.server.Close()
		<-ended
	})
	return m
}

func (m *mailbox) port() int { return m.listener.Addr().(*net.TCPAddr).Port }

func (m *mailbox) all() []received {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.mails)
}

type session struct {
	box *mailbox
	to  []string
}

func (s *session) Reset()                               { s.to = nil }
func (s *session) Logout() error                        { return nil }
func (s *session) Mail(string, *smtp.MailOptions) error { return nil }
func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	if code := s.box.refuse[to]; code != 0 {
		return &smtp.SMTPError{Code: code, EnhancedCode: smtp.EnhancedCode{code / 100, 1, 1}, Message: "not here: " + to}
	}
	s.to = append(s.to, to)
	return nil
}

func (s *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	s.box.mails = append(s.box.mails, received{s.to, b})
	return nil
}

// townsfolk are the people of the tests.
type townsfolk struct {
	mu     sync.Mutex // guards people
	people []care.Person
}

func (f *townsfolk) AtHome(_ context.Context, home string) (out []care.Person, _ error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, p := range f.people {
		if p.May(care.SeeLife, care.Place{Home: home, Firm: "saltmarsh"}) {
			out = append(out, p)
		}
	}
	return out, nil
}

func (f *townsfolk) Person(_ context.Context, id string) (care.Person, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, p := range f.people {
		if p.ID == id {
			return p, nil
		}
	}
	return care.Person{}, care.ErrNone
}

// scene is a teller over a real store and casebook, at a time of its own.
type scene struct {
	t      *testing.T
	path   string
	now    time.Time
	names  map[string]string // of homes
	db     *state.DB
	book   *casebook.Book
	folk   *townsfolk
	opts   Options
	teller *Teller
	log    *bytes.Buffer
}

func newScene(t *testing.T, people ...care.Person) *scene {
	t.Helper()
	s := &scene{t: t, path: filepath.Join(t.TempDir(), "state.db"), now: noon, names: map[string]string{}, folk: &townsfolk{people: people}, log: &bytes.Buffer{}}
	s.open()
	t.Cleanup(func() { _ = s.db.Close() })
	return s
}

// open opens all anew, as after a restart.
func (s *scene) open() {
	s.t.Helper()
	if s.db != nil {
		if err := s.db.Close(); err != nil {
			s.t.Fatal(err)
		}
	}
	var err error
	clock := func() time.Time { return s.now }
	if s.db, err = state.Open(context.Background(), s.path, clock); err != nil {
		s.t.Fatal(err)
	}
	s.book, err = casebook.New(casebook.Options{State: s.db, Clock: clock, Now: func(string) time.Time { return s.now }, Home: s.home,
		FirmOf: func(string) string { return "saltmarsh" }})
	if err != nil {
		s.t.Fatal(err)
	}
	s.opts.State, s.opts.Cases, s.opts.Home, s.opts.Clock, s.opts.People = s.db, s.book, s.home, clock, s.folk
	s.opts.Random = func() float64 { return 0.5 }
	s.opts.BaseURL = "https://pages.test/"
	s.opts.Logger = slog.New(slog.NewTextHandler(s.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	s.restartTeller()
}

func (s *scene) restartTeller() {
	s.t.Helper()
	var err error
	if s.teller, err = New(s.opts); err != nil {
		s.t.Fatal(err)
	}
}

func (s *scene) home(id string) (detect.Home, bool) {
	h := detect.DefaultHome(id, time.UTC)
	h.Name = cmp.Or(s.names[id], id)
	return h, true
}

// mail lets mails go to a mail server.
func (s *scene) mail(port int) {
	s.opts.Mail = MailOptions{Host: "127.0.0.1", Port: port, From: "Brinebell <bell@pages.test>", TLS: PlainTCP}
	s.restartTeller()
}

// save stores alerts, has them taken and people told.
func (s *scene) save(alerts ...detect.Alert) {
	s.t.Helper()
	for _, a := range alerts {
		if _, err := s.db.Save(context.Background(), state.Progress{Home: a.Home, Alerts: []detect.Alert{a}}); err != nil {
			s.t.Fatal(err)
		}
	}
	if err := s.book.Take(context.Background()); err != nil {
		s.t.Fatal(err)
	}
	s.step()
}

func (s *scene) step() {
	s.t.Helper()
	if err := s.teller.Step(context.Background()); err != nil {
		s.t.Fatal(err)
	}
}

// until lets time pass, minute by minute, or in larger steps where that would be
// very many.
func (s *scene) until(end time.Time) {
	s.t.Helper()
	step := max(time.Minute, (end.Sub(s.now) / 100).Round(time.Minute))
	for s.now.Before(end) {
		s.now = s.now.Add(min(step, end.Sub(s.now)))
		s.step()
	}
}

func (s *scene) act(by care.Person, alert detect.Alert, do casebook.Doing) {
	s.t.Helper()
	id, err := s.book.OfAlert(context.Background(), alert.ID)
	if err == nil {
		_, err = s.book.Act(context.Background(), by, id, do)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	s.step()
}

func (s *scene) count(query string, args ...any) (n int) {
	s.t.Helper()
	if err := s.db.Each(context.Background(), func(r *sql.Rows) error { return r.Scan(&n) }, query, args...); err != nil && !errors.Is(err, sql.ErrNoRows) {
		s.t.Fatal(err)
	}
	return n
}

func raised(home string, k detect.Kind, severity detect.Severity, at time.Time) detect.Alert {
	return detect.Alert{ID: detect.AlertID(home, k, at), Home: home, Kind: k, Severity: severity, Onset: at.Add(-time.Hour), Raised: at,
		Summary:  "Water has not stopped running for two days: 0.3 L/min.",
		Causes:   []detect.CauseShare{{Cause: detect.FlapperLeak, Probability: 0.72}, {Cause: detect.SupplyLineLeak, Probability: 0.2}},
		Evidence: detect.Evidence{"litres_per_day": 432.0}}
}

func household(id string, channels ...care.Channel) care.Person {
	return care.Person{ID: id, Firm: "saltmarsh", Role: care.Household, Homes: []string{"a"}, Channels: channels}
}

func technician(id string, channels ...care.Channel) care.Person {
	return care.Person{ID: id, Firm: "saltmarsh", Role: care.Technician, Channels: channels}
}

func mailTo(address string) care.Channel { return care.Channel{Kind: care.Mail, Target: address} }

// crew are the people of the kill tests.
func crew() []care.Person {
	return []care.Person{technician("t1", mailTo("tom@firm.test")), technician("t2", mailTo("tess@firm.test"))}
}
