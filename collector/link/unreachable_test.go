package link

import (
	"bytes"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// pad is a log that may be read while it is written.
type pad struct {
	mu   sync.Mutex
	text bytes.Buffer // guarded by mu
	more chan struct{}
}

func (p *pad) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	select {
	case p.more <- struct{}{}:
	default:
	}
	return p.text.Write(b)
}

func (p *pad) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// An address at which nobody listens is named, once, with what to look at.
func TestUnreachableBrokerIsNamedOnce(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	log := &pad{more: make(chan struct{}, 1)}
	d := newDesk()
	c, err := NewClient(ClientOptions{URL: "tcp://brinebell:secret@" + address, Filters: []string{"a/#"}, Offer: d.offer, Logger: slog.New(slog.NewTextHandler(log, nil))})
	if err != nil {
		t.Fatal(err)
	}
	c.pause = time.Millisecond
	stop := run(t, c.Run)
	select {
	case <-log.more:
	case <-time.After(20 * time.Second):
	}
	stop()
	text := log.String()
	for _, want := range []string{address, "cannot be reached", "connection refused", "check that a broker runs there"} {
		if !strings.Contains(text, want) {
			t.Errorf("the log does not say %q:\n%s", want, text)
		}
	}
	if strings.Contains(text, "secret") {
		t.Errorf("the log tells the password:\n%s", text)
	}
}

func TestSameFailureIsSaidOnce(t *testing.T) {
	var a attempts
	for i, c := range []struct {
		why  string
		news bool
	}{{"refused", true}, {"refused", false}, {"no route", true}, {"", false}, {"no route", true}, {"no route", false}} {
		if a.failed(c.why) != c.news {
			t.Errorf("%d: %q is news: %v, want %v", i, c.why, !c.news, c.news)
		}
	}
}

// A broker that refuses the name is told apart from one that is not there.
func TestRefusedNameIsSaid(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk()
	b, err := NewBroker(BrokerOptions{Listener: l, Users: map[string]string{"hub": "right"}, Wants: func(string) bool { return true }, Offer: d.offer})
	if err != nil {
		t.Fatal(err)
	}
	defer run(t, b.Run)()
	log := &pad{more: make(chan struct{}, 1)}
	c, err := NewClient(ClientOptions{URL: "tcp://" + l.Addr().String(), Username: "nobody", Password: "wrong", Filters: []string{"a/#"}, Offer: d.offer, Logger: slog.New(slog.NewTextHandler(log, nil))})
	if err != nil {
		t.Fatal(err)
	}
	c.pause = time.Millisecond
	stop := run(t, c.Run)
	select {
	case <-log.more:
	case <-time.After(20 * time.Second):
	}
	stop()
	if text := log.String(); !strings.Contains(text, "username") {
		t.Errorf("the log does not name the user name:\n%s", text)
	}
}
