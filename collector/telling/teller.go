package telling

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"brinebell/detect/care"
)

// Teller tells people.
type Teller struct {
	opts    Options
	metrics *metrics
	senders map[care.ChannelKind]sender
	mailer  *mailer
	wake    chan struct{}
	news    atomic.Bool // alerts may have changed since they were announced

	mu   sync.Mutex // guards down
	down map[care.ChannelKind]outage

	announced time.Time // of the last whole announcement; of the goroutine of Run
}

// outage is a server that everything of a kind goes through and that does not
// answer.
type outage struct {
	failures int
	until    time.Time
}

// sender brings one letter to one target.
type sender interface {
	send(ctx context.Context, c care.Channel, l letter) error
}

// The ways in which a delivery can fail.
var (
	// errRefused means that the receiver will never take it.
	errRefused = errors.New("refused for good")
	// errDown means that the server everything of this kind goes through does
	// not answer.
	errDown = errors.New("the server does not answer")
	// errNoWay means that there is no server for this kind of channel.
	errNoWay = errors.New("not set up")
)

// New makes a teller, which tells while Run runs.
func New(opts Options) (*Teller, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	m, err := newMetrics(opts.Registerer)
	if err != nil {
		return nil, err
	}
	t := &Teller{opts: opts, metrics: m, wake: make(chan struct{}, 1), down: map[care.ChannelKind]outage{}}
	if t.mailer, err = newMailer(opts.Mail); err != nil {
		return nil, err
	}
	t.senders = map[care.ChannelKind]sender{care.Mail: t.mailer, care.Gateway: gateway{opts.Private}, care.Webhook: newWebhook(opts)}
	t.news.Store(true)
	return t, nil
}

// Wake says that there may be something to tell. It never blocks.
func (t *Teller) Wake() {
	t.news.Store(true)
	select {
	case t.wake <- struct{}{}:
	default: // it is awake
	}
}

// Run tells until ctx ends.
func (t *Teller) Run(ctx context.Context) error {
	if t.opts.People == nil {
		t.opts.Logger.Info("nobody is told of anything: there are no people")
	}
	ticker := time.NewTicker(t.opts.Every)
	defer ticker.Stop()
	for {
		if err := t.Step(ctx); err != nil && ctx.Err() == nil {
			t.metrics.failures.Inc()
			t.opts.Logger.Error("people could not be told; it is tried again", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		case <-t.wake:
		}
	}
}

// Step does all that is due by the clock. Whatever it could not do is due at a
// later one.
func (t *Teller) Step(ctx context.Context) error {
	now := t.opts.Clock()
	return errors.Join(t.fan(ctx, now), t.repeat(ctx, now), t.bundle(ctx, now), t.deliver(ctx, now), t.announce(ctx, now), t.measure(ctx, now))
}
