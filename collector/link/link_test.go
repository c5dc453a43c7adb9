package link

import (
	"context"
	"errors"
	"net"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"go.uber.org/goleak"

	"brinebell/collector/intake"
	"brinebell/collector/mosquittotest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// desk is an intake that a test answers for.
type desk struct {
	mu   sync.Mutex
	fail int // messages that fail at first; guarded by mu
	got  chan intake.Message
}

func newDesk() *desk { return &desk{got: make(chan intake.Message, 1000)} }

var errCommit = errors.New("disk full")

// offer commits at once, or fails.
func (d *desk) offer(_ context.Context, m intake.Message) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fail > 0 {
		d.fail--
		m.Done(errCommit)
		return nil
	}
	m.Done(nil)
	d.got <- m
	return nil
}

func receive(t *testing.T, from <-chan intake.Message) intake.Message {
	t.Helper()
	select {
	case m := <-from:
		return m
	case <-time.After(20 * time.Second):
		t.Fatal("no message")
		return intake.Message{}
	}
}

// receiveAfter passes over repetitions of a message whose acknowledgement may
// have been under way when the connection ended: delivery is at least once.
func receiveAfter(t *testing.T, from <-chan intake.Message, earlier string) intake.Message {
	t.Helper()
	for {
		if m := receive(t, from); string(m.Payload) != earlier {
			return m
		}
	}
}

func nothing(t *testing.T, from <-chan intake.Message) {
	t.Helper()
	select {
	case m := <-from:
		t.Errorf("%s came again", m.Payload)
	default:
	}
}

// run runs a part until the returned function is called.
func run(t *testing.T, part func(context.Context) error) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- part(ctx) }()
	return func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

func client(t *testing.T, url, id string, options ...func(*mqtt.ClientOptions)) mqtt.Client {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker(url).SetClientID(id).SetCleanSession(false).SetMaxReconnectInterval(100 * time.Millisecond)
	for _, change := range options {
		change(o)
	}
	c := mqtt.NewClient(o)
	if token := c.Connect(); token.WaitTimeout(10*time.Second) && token.Error() != nil {
		t.Fatal(token.Error())
	}
	return c
}

func publish(t *testing.T, c mqtt.Client, topic, payload string) {
	t.Helper()
	if token := c.Publish(topic, 1, false, payload); !token.WaitTimeout(20*time.Second) || token.Error() != nil {
		t.Fatalf("publish %s: %v", payload, token.Error())
	}
}

func awaitConnected(t *testing.T, c *Client) {
	t.Helper()
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for deadline := time.After(20 * time.Second); !c.Connected(); {
		select {
		case <-tick.C:
		case <-deadline:
			t.Fatal("not connected")
		}
	}
}

// TestClientIsSentAgainWhatWasNotCommitted goes through a failed commit, a stop
// with a message left, and a restart, at a real broker.
func TestClientIsSentAgainWhatWasNotCommitted(t *testing.T) {
	url := mosquittotest.Start(t)
	d := newDesk()
	opts := ClientOptions{URL: url, Filters: []string{"homes/+/sensors/+"}, Offer: d.offer}
	c, err := NewClient(opts)
	if err != nil {
		t.Fatal(err)
	}
	stop := run(t, c.Run)
	awaitConnected(t, c)
	p := client(t, url, "sensor")
	defer p.Disconnect(100)
	publish(t, p, "homes/a/sensors/d", "1")
	publish(t, p, "elsewhere", "no")
	if m := receive(t, d.got); string(m.Payload) != "1" || m.Topic != "homes/a/sensors/d" {
		t.Errorf("%+v", m)
	}
	d.mu.Lock()
	d.fail = 1
	d.mu.Unlock()
	publish(t, p, "homes/a/sensors/d", "2")
	if m := receiveAfter(t, d.got, "1"); string(m.Payload) != "2" {
		t.Errorf("%s, want the failed one again", m.Payload)
	}
	awaitConnected(t, c) // or it may stop before its acknowledgement is read
	stop()
	publish(t, p, "homes/a/sensors/d", "3") // while we are away
	if c, err = NewClient(opts); err != nil {
		t.Fatal(err)
	}
	stop = run(t, c.Run)
	if m := receiveAfter(t, d.got, "2"); string(m.Payload) != "3" {
		t.Errorf("%s, want what came while away, and what was committed not again", m.Payload)
	}
	stop()
	nothing(t, d.got)
}

func newTestBroker(t *testing.T, d *desk, users map[string]string) (b *Broker, url string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b, err = NewBroker(BrokerOptions{Listener: l, Users: users, Offer: d.offer, Wants: func(topic string) bool { return topic == "wanted" }})
	if err != nil {
		t.Fatal(err)
	}
	return b, "tcp://" + b.Addr().String()
}

func TestBrokerAcknowledgesWhatIsCommitted(t *testing.T) {
	d := newDesk()
	b, url := newTestBroker(t, d, nil)
	stop := run(t, b.Run)
	p := client(t, url, "sensor")
	publish(t, p, "wanted", "1")
	if m := receive(t, d.got); string(m.Payload) != "1" {
		t.Errorf("%s", m.Payload)
	}
	d.mu.Lock()
	d.fail = 2
	d.mu.Unlock()
	publish(t, p, "wanted", "2") // acknowledged at the third attempt
	if m := receive(t, d.got); string(m.Payload) != "2" {
		t.Errorf("%s", m.Payload)
	}
	heard := make(chan string, 1)
	other := client(t, url, "screen")
	if token := other.Subscribe("passed/on", 1, func(_ mqtt.Client, m mqtt.Message) { heard <- string(m.Payload()) }); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	publish(t, p, "passed/on", "x") // what is not for us passes through
	if got := <-heard; got != "x" {
		t.Error(got)
	}
	p.Disconnect(100)
	other.Disconnect(100)
	stop()
	nothing(t, d.got)
}

func TestBrokerAsksForAPassword(t *testing.T) {
	b, url := newTestBroker(t, newDesk(), map[string]string{"meter": "secret"})
	stop := run(t, b.Run)
	defer stop()
	for password, want := range map[string]bool{"secret": true, "Secret": false, "": false} {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("c").SetUsername("meter").SetPassword(password).SetAutoReconnect(false))
		token := c.Connect()
		if !token.WaitTimeout(10*time.Second) || (token.Error() == nil) != want {
			t.Errorf("password %q: %v", password, token.Error())
		}
		if want {
			c.Disconnect(100)
		}
	}
}

func TestOptionsAreChecked(t *testing.T) {
	if _, err := NewClient(ClientOptions{}); err == nil {
		t.Error("a client without a broker")
	}
	if _, err := NewBroker(BrokerOptions{}); err == nil {
		t.Error("a broker without a listener")
	}
}
