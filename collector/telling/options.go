package telling

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"math/rand/v2"
	"net/url"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/casebook"
	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// The rules of telling.
const (
	// WakingFrom and WakingTo are the waking hours of a home whose people said
	// nothing else, by its own clock.
	WakingFrom = 7 * time.Hour
	WakingTo   = 22 * time.Hour
	// FirstRepeat is after how long something to be acted on now is told again
	// if nobody has taken it; each further pause is twice as long, up to
	// LastRepeat.
	FirstRepeat = 10 * time.Minute
	LastRepeat  = 2 * time.Hour
	// PerHour is how many messages one person gets on one channel in an hour
	// besides those to be acted on now. More are put together.
	PerHour = 6
	// UrgentGap is the least time between two messages to be acted on now to one
	// person on one channel; those that come in between are put together.
	UrgentGap = time.Minute
	// FirstRetry is the pause after a failed delivery; each further one is twice
	// as long, up to LastRetry, or LastUrgentRetry for what is to be acted on
	// now.
	FirstRetry      = 30 * time.Second
	LastRetry       = 30 * time.Minute
	LastUrgentRetry = 2 * time.Minute
	// GiveUp is how long a delivery is tried.
	GiveUp = 3 * 24 * time.Hour
	// Jitter is the share by which pauses are varied, so that what failed
	// together does not come again together.
	Jitter = 0.2
)

// The defaults of Options.
const (
	// DefaultEvery is how often the outbox is looked at.
	DefaultEvery = 2 * time.Second
	// tryTime bounds one attempt.
	tryTime = 30 * time.Second
	// atOnce is how many deliveries are made at a time, so that one slow
	// receiver does not hold up the rest.
	atOnce = 8
)

// People says who is told of a home.
type People interface {
	// AtHome are those who may see the life of a home.
	AtHome(ctx context.Context, home string) ([]care.Person, error)
	// Person is one of them; care.ErrNone when there is none of that id.
	Person(ctx context.Context, id string) (care.Person, error)
}

// Cases is what is asked of the casebook.
type Cases interface {
	Case(ctx context.Context, id string) (casebook.Case, error)
}

var _ Cases = (*casebook.Book)(nil)

// Publisher publishes at the broker.
type Publisher interface {
	Publish(ctx context.Context, topic string, payload []byte, retain bool) error
}

// Painter draws the evidence of an alert.
type Painter interface {
	// Evidence is a PNG and what it shows in words; nil when there is nothing
	// to draw.
	Evidence(ctx context.Context, a detect.Alert) (png []byte, says string, err error)
}

// MailOptions say how mails are sent.
type MailOptions struct {
	Host               string // of the mail server; empty: no mails
	Port               int    // 587 when 0
	Username, Password string
	From               string      // address, perhaps with a name before it
	TLS                TLS         // StartTLS when empty
	Config             *tls.Config // nil for the system's roots
}

// TLS is how the connection to the mail server is kept secret.
type TLS string

// The ways.
const (
	StartTLS TLS = "starttls" // required
	Implicit TLS = "tls"      // from the first byte
	PlainTCP TLS = "none"     // a server on this machine or in a trusted network
)

// Options say what telling works with. State, Cases and Home must be set.
type Options struct {
	State *state.DB
	Cases Cases
	Home  func(id string) (detect.Home, bool)
	// People who may be told; nil when there are none.
	People People
	Mail   MailOptions
	// BaseURL is where the pages are, for links; no links when empty.
	BaseURL string
	// Private lets webhooks go to addresses that are not public, such as those
	// of the own network. Else a household could have this machine knock at its
	// neighbours.
	Private    bool
	Publisher  Publisher             // nil when alerts are not published
	Painter    Painter               // nil for mails without a picture
	Clock      func() time.Time      // time.Now when nil
	Random     func() float64        // in [0, 1), for Jitter; nil for a source of its own
	Every      time.Duration         // DefaultEvery when 0
	Webhooks   *tls.Config           // of webhooks; nil for the system's roots
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o Options) validate() error {
	switch {
	case o.State == nil || o.Cases == nil || o.Home == nil:
		return errors.New("telling: State, Cases and Home must be set")
	case o.Mail.Host != "" && o.Mail.From == "":
		return errors.New("telling: with a mail server an address to send from must be given")
	}
	if u, err := url.Parse(o.BaseURL); err != nil || o.BaseURL != "" && (u.Host == "" || u.Scheme != "https" && u.Scheme != "http") {
		return errors.New("telling: the address of the pages must be like https://brinebell.example")
	}
	return nil
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Random == nil {
		o.Random = rand.Float64
	}
	if o.Every == 0 {
		o.Every = DefaultEvery
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Mail.TLS == "" {
		o.Mail.TLS = StartTLS
	}
	if o.Mail.Port == 0 {
		o.Mail.Port = 587
	}
	o.BaseURL = strings.TrimSuffix(o.BaseURL, "/")
	return o
}
