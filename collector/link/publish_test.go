package link

import (
	"context"
	"errors"
	"testing"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"brinebell/collector/mosquittotest"
)

// publisher is either side of the link.
type publisher interface {
	Publish(ctx context.Context, topic string, payload []byte, retain bool) error
}

// checkRetained publishes, and holds that who comes later gets what is retained
// and nothing of what was cleared.
func checkRetained(t *testing.T, p publisher, url string) {
	t.Helper()
	ctx := context.Background()
	for _, m := range [][2]string{{"homes/a/alerts/1", "one"}, {"homes/a/alerts/2", "two"}, {"homes/a/alerts/1", ""}, {"homes/a/alerts/2", "three"}} {
		if err := p.Publish(ctx, m[0], []byte(m[1]), true); err != nil {
			t.Fatal(err)
		}
	}
	got := make(chan mqtt.Message, 10)
	c := client(t, url, "late")
	defer c.Disconnect(100)
	if token := c.Subscribe("homes/+/alerts/+", 1, func(_ mqtt.Client, m mqtt.Message) { got <- m }); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	if err := p.Publish(ctx, "homes/b/alerts/3", []byte("live"), false); err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{} // the order is the broker's
	for range 2 {
		m := <-got
		seen[m.Topic()] = string(m.Payload())
	}
	if len(seen) != 2 || seen["homes/a/alerts/2"] != "three" || seen["homes/b/alerts/3"] != "live" {
		t.Errorf("%v", seen)
	}
}

func TestBrokerPublishes(t *testing.T) {
	b, url := newTestBroker(t, newDesk(), nil)
	defer run(t, b.Run)()
	checkRetained(t, b, url)
}

func TestClientPublishes(t *testing.T) {
	url := mosquittotest.Start(t)
	c, err := NewClient(ClientOptions{URL: url, Filters: []string{"x"}, Offer: newDesk().offer})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Publish(context.Background(), "homes/a/alerts/1", nil, true); !errors.Is(err, ErrNotConnected) {
		t.Errorf("%v before it runs", err)
	}
	stop := run(t, c.Run)
	awaitConnected(t, c)
	checkRetained(t, c, url)
	stop()
	if err := c.Publish(context.Background(), "homes/a/alerts/1", nil, true); !errors.Is(err, ErrNotConnected) {
		t.Errorf("%v after it was stopped", err)
	}
}
