package link

import (
	"errors"
	"net"
	"net/url"
	"sync"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// attempts says once that the broker cannot be reached, and again when the
// reason changes: the library tries every few seconds and says nothing itself.
type attempts struct {
	mu   sync.Mutex
	last string // why the last attempt failed; empty after one that did not; guarded by mu
}

// noticed is told by the library of each attempt to connect.
func (c *Client) noticed(_ mqtt.Client, n mqtt.ConnectionNotification) {
	switch n := n.(type) {
	case mqtt.ConnectionNotificationConnected:
		c.attempts.failed("")
	case mqtt.ConnectionNotificationFailed:
		if why := reason(n.Reason); c.attempts.failed(why) {
			c.opts.Logger.Warn("the broker cannot be reached; trying again until it can", "url", redacted(c.opts.URL), "error", why, "do", advice(n.Reason))
		}
	}
}

// failed notes why and says whether that is news.
func (a *attempts) failed(why string) (news bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	news = why != "" && why != a.last
	a.last = why
	return news
}

// reason is an error without the port that this machine happened to use.
func reason(err error) string {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err.Error()
	}
	return err.Error()
}

// advice is what a person can look at.
func advice(err error) string {
	switch {
	case errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword), errors.Is(err, packets.ErrorRefusedNotAuthorised):
		return "check username and password_file of the broker"
	case errors.Is(err, packets.ErrorRefusedIDRejected):
		return "check client_id of the broker"
	}
	return "check that a broker runs there and that url has its scheme, host and port"
}

// redacted is a URL without its password.
func redacted(text string) string {
	u, err := url.Parse(text)
	if err != nil {
		return text
	}
	return u.Redacted()
}
