package collector_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/emersion/go-smtp"

	"brinebell/collector"
	"brinebell/collector/casebook"
	"brinebell/collector/people"
	"brinebell/collector/state"
	"brinebell/collector/telling"
	"brinebell/detect"
	"brinebell/detect/care"
)

// letters is a session of a mail server that hands on what it takes.
type letters chan string

func (letters) Reset()                               {}
func (letters) Logout() error                        { return nil }
func (letters) Mail(string, *smtp.MailOptions) error { return nil }
func (letters) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (l letters) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	l <- string(b)
	return err
}

// postOffice is a real mail server on a free port.
func postOffice(t *testing.T) (port int, mails letters) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	mails = make(letters, 100)
	server := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return mails, nil }))
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = server.Serve(listener)
	}()
	t.Cleanup(func() {
		_ = server.Close()
		<-ended
	})
	return listener.Addr().(*net.TCPAddr).Port, mails
}

// await takes what comes next, within the time that a loaded machine may need.
func await[T any](t *testing.T, from <-chan T) (v T) {
	t.Helper()
	select {
	case v = <-from:
	case <-time.After(30 * time.Second):
		t.Fatal("nothing came")
	}
	return v
}

// TestFromAWetFloorToAMail publishes that a floor is wet, and holds that the
// household gets a mail of it, that it stands retained at the broker, and that a
// stranger sees nothing of it.
func TestFromAWetFloorToAMail(t *testing.T) {
	ctx := context.Background()
	port, mails := postOffice(t)
	opts := streamOptions(t.TempDir(), "127.0.0.1:0", "")
	opts.Profiles = map[string]string{"home-0": "{id: home-0, timezone: UTC}"}
	var accounts *people.Store
	opts.Care = collector.CareOptions{BaseURL: "https://pages.test", Mail: telling.MailOptions{Host: "127.0.0.1", Port: port, From: "bell@pages.test", TLS: telling.PlainTCP},
		Accounts: func(db *state.DB) collector.Accounts {
			accounts = people.New(people.Options{DB: db})
			return accounts
		}}
	c, stop := running(t, opts)
	defer stop()
	ann := settle(t, accounts)

	sensor := connect(t, "tcp://"+c.BrokerAddr())
	defer sensor.Disconnect(100)
	at := streamClock().Add(-time.Hour)
	retained := make(chan string, 10)
	if token := sensor.Subscribe("homes/+/alerts/+", 1, func(_ mqtt.Client, m mqtt.Message) { retained <- m.Topic() + " " + string(m.Payload()) }); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	for minute := range 10 {
		send(t, sensor, "homes/home-0/sensors/pad", fmt.Sprintf(`[{"n":"home-0/pad/floor_wet","u":"/","v":1,"t":%d}]`, at.Add(time.Duration(minute)*time.Minute).Unix()))
	}
	mail := await(t, mails)
	for _, want := range []string{"To: <ann@home.test>", "Act now: the floor is wet", "Keep away from plugs"} {
		if !strings.Contains(strings.ReplaceAll(mail, "=\r\n", ""), want) {
			t.Errorf("the mail lacks %q:\n%s", want, mail)
		}
	}
	if got := await(t, retained); !strings.HasPrefix(got, "homes/home-0/alerts/") || !strings.Contains(got, `"kind":"floor_wet"`) {
		t.Errorf("at the broker: %s", got)
	}
	page, err := c.Cases().List(ctx, casebook.Query{})
	if err != nil || len(page.Cases) != 1 || page.Cases[0].Kind != detect.FloorWetKind {
		t.Fatalf("%+v %v", page, err)
	}
	id := page.Cases[0].ID
	if _, err := c.Cases().Act(ctx, care.Person{ID: "x", Firm: "other", Role: care.Manager}, id, casebook.Doing{Act: care.Close}); err != casebook.ErrNoCase {
		t.Errorf("%v: a stranger may not know of it", err)
	}
	if got, err := c.Cases().Act(ctx, ann, id, casebook.Doing{Act: care.Acknowledge}); err != nil || got.Stage != care.Taken {
		t.Errorf("%+v %v", got.Case, err)
	}
	got := await(t, retained)
	for strings.Contains(got, `"stage":"open"`) { // as it was before, told once more
		got = await(t, retained)
	}
	if !strings.Contains(got, `"stage":"taken"`) {
		t.Errorf("at the broker: %s", got)
	}
}

// settle makes a firm, puts the home under it and a person in it.
func settle(t *testing.T, s *people.Store) care.Person {
	t.Helper()
	ctx := context.Background()
	if err := s.AddFirm(ctx, care.Firm{ID: "saltmarsh", Name: "Saltmarsh"}); err != nil {
		t.Fatal(err)
	}
	if err := s.SetPlace(ctx, care.Place{Home: "home-0", Firm: "saltmarsh"}); err != nil {
		t.Fatal(err)
	}
	p, err := s.Add(ctx, care.Person{Firm: "saltmarsh", Role: care.Household, Name: "Ann", Email: "ann@home.test", Homes: []string{"home-0"},
		Channels: []care.Channel{{Kind: care.Mail, Target: "ann@home.test"}}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}
