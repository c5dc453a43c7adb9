package access

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"net/netip"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"

	"brinebell/detect/care"
)

// Accounts is who keeps people. Errors are those of package care; any other is
// a failure.
type Accounts interface {
	SignIn(ctx context.Context, email, password string) (p care.Person, epoch int64, err error)
	Current(ctx context.Context, id string, epoch int64) (care.Person, error)
	ByToken(ctx context.Context, secret string) (care.Person, care.Token, error)
	ByEmail(ctx context.Context, email string) (care.Person, error)
	ByLink(ctx context.Context, secret string) (care.Person, error)
	UseLink(ctx context.Context, secret, password string) (p care.Person, epoch int64, err error)
	// Introduce says who the first operator is, whose link it is.
	Introduce(ctx context.Context, secret, name, email string) error
	Invite(ctx context.Context, id string, valid time.Duration) (secret string, err error)
	Place(ctx context.Context, home string) (care.Place, error)
	Note(ctx context.Context, d care.Deed) error
}

// Mailer sends somebody the link by which they set their password. It must not
// wait for the mail server.
type Mailer interface {
	// SendLink sends the link, which is good until a time; first says whether
	// the person has been invited and does not only come back.
	SendLink(ctx context.Context, p care.Person, link string, until time.Time, first bool) error
}

// Options are the settings of a Gate. Accounts and Sessions must be set.
type Options struct {
	Accounts Accounts
	Sessions scs.CtxStore
	// Mailer sends links; nil when there is no mail, and then a forgotten
	// password is for the manager to see to.
	Mailer Mailer
	Logger *slog.Logger     // nil for none
	Now    func() time.Time // of throttling and links; time.Now when nil
	// BaseURL begins the links in mails and says what scheme the pages are
	// reached by, as in https://brinebell.example.org.
	BaseURL string
	// Proxies are those that may say for whom they ask, in X-Forwarded-For.
	Proxies []netip.Prefix
	// Rules says what is needed for a page of a home, beside DefaultRules.
	Rules []Rule
	// Streams are path patterns whose answers last, so that they have no time
	// limit, beside DefaultStreams.
	Streams []string
}

const (
	// sessionTime is how long one stays signed in.
	sessionTime = 7 * 24 * time.Hour
	// resetTime is how long the link of a forgotten password is good for.
	resetTime = time.Hour
)

func (o *Options) complete() error {
	if o.Accounts == nil || o.Sessions == nil {
		return errors.New("access: Accounts and Sessions must be set")
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	o.BaseURL = strings.TrimSuffix(cmp.Or(o.BaseURL, "http://localhost"), "/")
	return nil
}

// secure says whether the pages are reached over TLS.
func (o *Options) secure() bool { return strings.HasPrefix(o.BaseURL, "https://") }

// LinkURL is the address of a link's page.
func (o *Options) LinkURL(secret string) string { return o.BaseURL + "/link/" + secret }
