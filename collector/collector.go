package collector

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"brinebell/collector/adapter"
	"brinebell/collector/casebook"
	"brinebell/collector/intake"
	"brinebell/collector/judge"
	"brinebell/collector/link"
	"brinebell/collector/series"
	"brinebell/collector/state"
	"brinebell/collector/telling"
)

// broker is either side that messages come from.
type broker interface {
	Run(context.Context) error
}

// Collector is the whole way from a broker to alerts.
type Collector struct {
	opts     Options
	homes    registry
	changing sync.Mutex   // one home is put or removed at a time
	listener net.Listener // of the embedded broker, or nil
	secure   net.Listener // of the embedded broker over TLS, or nil
	client   *link.Client // to a broker elsewhere, or nil
	store    series.Store
	state    *state.DB
	judge    *judge.Judge
	intake   *intake.Intake
	broker   broker
	book     *casebook.Book
	teller   *telling.Teller
	closers  []func() error // in reverse
}

// Open opens the stores and binds the embedded broker's address. Nothing is
// taken in until Run. What was stored can be asked for at once.
func Open(ctx context.Context, opts Options) (*Collector, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	c := &Collector{opts: opts}
	for _, step := range []func(context.Context) error{c.openStores, c.makeJudge, c.makeIntake, c.makeCare} {
		if err := step(ctx); err != nil {
			return nil, errors.Join(fmt.Errorf("collector: %w", err), c.Close())
		}
	}
	return c, nil
}

func (c *Collector) openStores(ctx context.Context) error {
	if err := os.MkdirAll(c.opts.Dir, 0o750); err != nil {
		return err
	}
	var err error
	if c.store = c.opts.Store; c.store == nil {
		c.store, err = openSeries(c.opts)
		if err != nil {
			return err
		}
	}
	c.closers = append(c.closers, c.store.Close)
	if c.state, err = state.Open(ctx, filepath.Join(c.opts.Dir, "state.db"), nil); err != nil {
		return err
	}
	c.closers = append(c.closers, c.state.Close)
	return c.loadHomes(ctx)
}

// busyHomes are so many that a start after a crash must not have a day of their
// readings to read again.
const busyHomes = 1000

func openSeries(o Options) (series.Store, error) {
	if o.OpenStore != nil {
		return o.OpenStore(o.Registerer)
	}
	block := time.Duration(0)
	if len(o.Homes) >= busyHomes {
		block = series.BusyBlock
	}
	return series.Open(series.Options{Dir: filepath.Join(o.Dir, "series"), Window: o.Window, Retention: o.Retention, Block: block,
		FiveMinutes: o.FiveMinutes, Hours: o.Hours, NoSync: o.NoSync, Logger: o.Logger.With("part", "series"), Metrics: o.Registerer})
}

func (c *Collector) makeJudge(context.Context) (err error) {
	c.judge, err = judge.New(judge.Options{Homes: c.homes.all(), Store: c.store, State: c.state, Changed: c.changed,
		Logger: c.opts.Logger.With("part", "judge"), Registerer: c.opts.Registerer})
	return err
}

// makeIntake makes the intake and the broker's side of it.
func (c *Collector) makeIntake(ctx context.Context) (err error) {
	var adapters []*adapter.Adapter
	for _, config := range c.opts.Adapters {
		a, err := adapter.New(config)
		if err != nil {
			return err
		}
		adapters = append(adapters, a)
	}
	newest, err := c.newestJudged(ctx)
	if err != nil {
		return err
	}
	c.intake, err = intake.New(intake.Options{Store: c.store, Judge: c.judge, Known: c.homes.has,
		Clock: c.opts.Clock, Newest: newest, Room: c.room, Adapters: adapters, Logger: c.opts.Logger.With("part", "intake"), Registerer: c.opts.Registerer})
	if err != nil {
		return err
	}
	if c.opts.Registerer != nil {
		if err := c.opts.Registerer.Register(newOverview(c)); err != nil {
			return err
		}
	}
	if c.opts.Broker.embedded() {
		return c.makeBroker(adapters)
	}
	c.client, err = link.NewClient(link.ClientOptions{URL: c.opts.Broker.URL, ClientID: c.opts.Broker.ClientID,
		Username: c.opts.Broker.Username, Password: c.opts.Broker.Password, TLS: c.opts.Broker.TLS,
		Filters: intake.Filters(adapters), Offer: c.intake.Offer, Logger: c.opts.Logger.With("part", "broker link"), Registerer: c.opts.Registerer})
	c.broker = c.client
	return err
}

// newestJudged is the newest time of readings that a snapshot holds.
func (c *Collector) newestJudged(ctx context.Context) (newest time.Time, err error) {
	snapshots, err := c.state.NewestSnapshots(ctx)
	for _, t := range snapshots {
		if t.After(newest) {
			newest = t
		}
	}
	return newest, err
}

func (c *Collector) makeBroker(adapters []*adapter.Adapter) (err error) {
	o := c.opts.Broker
	if o.Listen != "" {
		if c.listener, err = net.Listen("tcp", o.Listen); err != nil {
			return err
		}
		c.closers = append(c.closers, closing(c.listener))
	}
	if o.ListenTLS != "" {
		if c.secure, err = tls.Listen("tcp", o.ListenTLS, o.TLS); err != nil {
			return err
		}
		c.closers = append(c.closers, closing(c.secure))
	}
	var devices link.Devices
	if o.Devices != nil {
		devices = o.Devices(c.state)
	}
	c.broker, err = link.NewBroker(link.BrokerOptions{Listener: c.listener, Secure: c.secure, Users: o.Users, Devices: devices,
		Wants:  func(topic string) bool { return intake.Wants(adapters, topic) },
		HomeOf: func(topic string) (string, bool) { return intake.HomeOf(adapters, topic) },
		Offer:  c.intake.Offer, Refused: c.intake.Refused,
		Logger: c.opts.Logger.With("part", "embedded broker"), Registerer: c.opts.Registerer})
	return err
}

// closing closes a listener that has perhaps been closed.
func closing(l net.Listener) func() error {
	return func() error {
		if err := l.Close(); !errors.Is(err, net.ErrClosed) {
			return err
		}
		return nil
	}
}

// BrokerAddr is where sensors connect to the embedded broker; empty if there is
// none without TLS.
func (c *Collector) BrokerAddr() string { return addressOf(c.listener) }

// BrokerTLSAddr is where they connect to it over TLS; empty if they cannot.
func (c *Collector) BrokerTLSAddr() string { return addressOf(c.secure) }

func addressOf(l net.Listener) string {
	if l == nil {
		return ""
	}
	return l.Addr().String()
}

// Close closes the stores. It must not be called while Run runs.
func (c *Collector) Close() error {
	var errs []error
	for _, f := range slices.Backward(c.closers) {
		errs = append(errs, f())
	}
	c.closers = nil
	return errors.Join(errs...)
}
