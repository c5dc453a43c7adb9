package telling

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/nicholas-fedor/shoutrrr/pkg/router"
	"github.com/nicholas-fedor/shoutrrr/pkg/types"

	"brinebell/detect/care"
)

// gateway sends to chat, push and text message services by their URLs.
type gateway struct{ private bool }

// ownHosts are the services that people may run themselves: their URL names any
// host. hosted are those of one provider. What writes to this machine's log, sends
// mail past the mail server or posts anywhere is not among them.
var (
	ownHosts = []string{"bark", "gotify", "matrix", "mattermost", "ntfy", "rocketchat", "signal", "zulip"}
	hosted   = []string{"discord", "googlechat", "ifttt", "join", "lark", "opsgenie", "pagerduty", "pushbullet", "pushover", "slack", "teams", "telegram", "wecom"}
)

func (g gateway) send(ctx context.Context, c care.Channel, l letter) error {
	u, err := gatewayURL(c.Target)
	if err != nil {
		return fmt.Errorf("%w: %w", errRefused, err)
	}
	if slices.Contains(ownHosts, u.Scheme) && !g.private {
		if err := publicHost(ctx, u.Hostname()); err != nil {
			return fmt.Errorf("gateway %s: %w", u.Scheme, err)
		}
	}
	services, err := router.New(nil, c.Target)
	if err != nil {
		return fmt.Errorf("%w: the URL of the %s gateway cannot be read", errRefused, u.Scheme)
	}
	services.Timeout = tryTime
	params := types.Params{}
	params.SetTitle(l.subject)
	for _, err := range services.Send(l.short(), &params) {
		if err != nil { // its text may hold the URL, and so the key
			return fmt.Errorf("gateway %s: %s", u.Scheme, withoutURL(err))
		}
	}
	return nil
}

// gatewayURL reads the URL of a service that may be used.
func gatewayURL(target string) (*url.URL, error) {
	u, err := url.Parse(target)
	if err != nil {
		return nil, errors.New("the URL cannot be read")
	}
	if !slices.Contains(ownHosts, u.Scheme) && !slices.Contains(hosted, u.Scheme) {
		all := append(slices.Clone(ownHosts), hosted...)
		slices.Sort(all)
		return nil, fmt.Errorf("there is no gateway %q; there are %s", u.Scheme, strings.Join(all, ", "))
	}
	return u, nil
}

// publicHost says whether every address of a name is public.
func publicHost(ctx context.Context, host string) error {
	addresses, err := net.DefaultResolver.LookupNetIP(ctx, "ip", host)
	if err != nil {
		return errors.New("the name is not known")
	}
	for _, a := range addresses {
		if err := onlyPublic("", netip.AddrPortFrom(a, 0).String(), nil); err != nil {
			return err
		}
	}
	return nil
}

// CheckChannel says what is wrong with a channel that somebody wants to add, in
// words for them.
func CheckChannel(c care.Channel) error {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%w: %w", care.ErrBad, fmt.Errorf(format, args...))
	}
	switch c.Kind {
	case care.Mail:
		if _, err := mail.ParseAddress(c.Target); err != nil || oneLine(c.Target) != c.Target {
			return bad("the address cannot be read")
		}
	case care.Gateway:
		u, err := gatewayURL(c.Target)
		if err != nil {
			return bad("%w", err)
		}
		if _, err := router.New(nil, c.Target); err != nil {
			return bad("the URL of the %s gateway lacks something or has too much", u.Scheme)
		}
	case care.Webhook:
		if u, err := url.Parse(c.Target); err != nil || u.Scheme != "https" || u.Host == "" {
			return bad("a webhook's address begins with https://")
		}
		if len(key(c.Secret)) < leastKey {
			return bad("the key of a webhook's signature has at least %d characters", leastKey)
		}
	default:
		return bad("a channel is mail, gateway or webhook, not %q", c.Kind)
	}
	if c.From < 0 || c.To < 0 || c.From >= day || c.To > day {
		return bad("the hours lie within a day")
	}
	return nil
}

// leastKey is the least length of a key, in bytes: 24, as the Standard Webhooks
// specification recommends.
const leastKey = 24

const day = 24 * time.Hour
