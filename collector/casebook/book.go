package casebook

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/state"
	"brinebell/detect"
	"brinebell/detect/care"
)

// Plain is an error whose text is fit for whoever asked.
type Plain string

// Error is the text.
func (p Plain) Error() string { return string(p) }

// Plain is the text, for a page.
func (p Plain) Plain() string { return string(p) }

// The errors of asking and acting. To a stranger everything of a home looks as
// if it were not there.
const (
	ErrNoCase         Plain = "there is no such case"
	ErrNoHome         Plain = "there is no such home"
	ErrNoConfirmation Plain = "there is no such confirmation, or it was undone already"
	ErrVersion        Plain = "the case has changed meanwhile: look at it again"
	ErrCursor         Plain = "the mark of the next page is none of ours: begin with the first"
	ErrText           Plain = "the text is too long: say it in at most 4000 bytes"
)

// MaxText is the most bytes that a step's text may have.
const MaxText = 4000

// The defaults of Options.
const (
	// DefaultEvery is how often the casebook looks whether alerts have changed
	// without being woken, as when a re-run only withdrew some.
	DefaultEvery = 5 * time.Second
	// DefaultWatchEvery is how often the watches are judged. Their outcome does
	// not depend on it.
	DefaultWatchEvery = time.Minute
)

// Options say what a casebook works with. State, Home and Now must be set.
type Options struct {
	State *state.DB
	// Home is the profile of a home.
	Home func(id string) (detect.Home, bool)
	// FirmOf is the firm that looks after a home; empty when nobody does. Nil:
	// nobody looks after any.
	FirmOf func(home string) string
	// Now is the time of measurement up to which a home has been judged; zero
	// when it has not.
	Now        func(home string) time.Time
	Clock      func() time.Time      // of people's steps; time.Now when nil
	Every      time.Duration         // DefaultEvery when 0
	WatchEvery time.Duration         // DefaultWatchEvery when 0
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o Options) withDefaults() Options {
	if o.FirmOf == nil {
		o.FirmOf = func(string) string { return "" }
	}
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Every == 0 {
		o.Every = DefaultEvery
	}
	if o.WatchEvery == 0 {
		o.WatchEvery = DefaultWatchEvery
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}

// Book is the casebook. Its methods may be called from several goroutines.
type Book struct {
	opts    Options
	metrics *metrics
	wake    chan struct{}
	changed []func(home string) // not changed once Run runs
}

// New makes a casebook, which takes alerts in while Run runs; people may act
// before.
func New(opts Options) (*Book, error) {
	opts = opts.withDefaults()
	if opts.State == nil || opts.Home == nil || opts.Now == nil {
		return nil, errors.New("casebook: State, Home and Now must be set")
	}
	m, err := newMetrics(opts.Registerer)
	if err != nil {
		return nil, err
	}
	return &Book{opts: opts, metrics: m, wake: make(chan struct{}, 1)}, nil
}

// Changed adds one who is told after a case of a home has changed. It must be
// called before Run and must not block.
func (b *Book) Changed(told func(home string)) { b.changed = append(b.changed, told) }

// tell tells those who want to know.
func (b *Book) tell(home string) {
	for _, f := range b.changed {
		f(home)
	}
}

// Wake says that alerts have changed. It never blocks.
func (b *Book) Wake() {
	select {
	case b.wake <- struct{}{}:
	default: // it is awake
	}
}

// Run takes in alerts and judges watches until ctx ends.
func (b *Book) Run(ctx context.Context) error {
	look, watch := time.NewTicker(b.opts.Every), time.NewTicker(b.opts.WatchEvery)
	defer look.Stop()
	defer watch.Stop()
	b.log(b.Take(ctx))
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-watch.C:
			b.log(b.JudgeWatches(ctx))
		case <-look.C:
			b.log(b.Take(ctx))
		case <-b.wake:
			b.log(b.Take(ctx))
		}
	}
}

// log notes what failed. Nothing is lost by it: it is tried again.
func (b *Book) log(err error) {
	if err != nil && !errors.Is(err, context.Canceled) {
		b.metrics.failures.Inc()
		b.opts.Logger.Error("cases could not be brought up to date; it is tried again", "error", err)
	}
}

// place is where a home belongs.
func (b *Book) place(home string) care.Place {
	return care.Place{Home: home, Firm: b.opts.FirmOf(home)}
}
