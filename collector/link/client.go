package link

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/intake"
)

// DefaultClientID names the collector's session at the broker.
const DefaultClientID = "brinebell-collector"

const (
	// qos 1 is delivery at least once; readings are idempotent.
	qos = 1
	// keepAlive notices a dead connection within a minute.
	keepAlive = 30 * time.Second
	// pingTimeout is generous, since a handler that waits for a full queue
	// holds up the answer to a ping too.
	pingTimeout = 30 * time.Second
	// connectTimeout of one attempt, and retryPause between two.
	connectTimeout, retryPause = 10 * time.Second, 2 * time.Second
	// maxRetryPause bounds the doubling pauses of reconnection.
	maxRetryPause = 30 * time.Second
	// goodbye is how long a disconnect waits for acknowledgements under way.
	goodbye = 500 * time.Millisecond
)

// Offer hands a message to the intake; see intake.Intake.
type Offer func(context.Context, intake.Message) error

// ClientOptions say how to reach a broker. URL, Filters and Offer must be set.
type ClientOptions struct {
	URL        string // tcp://, ssl:// or ws:// host:port
	ClientID   string // names the session; one collector each. DefaultClientID when empty
	Username   string
	Password   string
	TLS        *tls.Config // for ssl://; nil for the system's roots
	Filters    []string    // topic filters to subscribe to
	Offer      Offer
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o ClientOptions) validate() error {
	if o.URL == "" || len(o.Filters) == 0 || o.Offer == nil {
		return errors.New("broker link: URL, Filters and Offer must be set")
	}
	return nil
}

// Client is the link to a broker elsewhere.
type Client struct {
	opts       ClientOptions
	connection atomic.Int64 // counts connections
	live       atomic.Pointer[mqtt.Client]
	subscribed atomic.Bool
	attempts   attempts
	pause      time.Duration     // between two attempts to connect
	failed     chan struct{}     // told when a message must be delivered again
	committed  chan mqtt.Message // that may be acknowledged
}

// maxCommitted acknowledgements may wait to be written. It is as many as the
// intake's queue holds by default.
const maxCommitted = intake.DefaultQueue

// NewClient makes a link, which works while Run does.
func NewClient(opts ClientOptions) (*Client, error) {
	if opts.ClientID == "" {
		opts.ClientID = DefaultClientID
	}
	if opts.Logger == nil {
		opts.Logger = slog.New(slog.DiscardHandler)
	}
	if err := opts.validate(); err != nil {
		return nil, err
	}
	c := &Client{opts: opts, pause: retryPause, failed: make(chan struct{}, 1), committed: make(chan mqtt.Message, maxCommitted)}
	if opts.Registerer == nil {
		return c, nil
	}
	return c, opts.Registerer.Register(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_broker_connected",
		Help: "Whether the broker is connected and subscribed to (1) or not (0)."}, func() float64 {
		if c.Connected() {
			return 1
		}
		return 0
	}))
}

// libraryOptions say how to connect and whom to tell, until ctx ends.
func (c *Client) libraryOptions(ctx context.Context) *mqtt.ClientOptions {
	o := mqtt.NewClientOptions().AddBroker(c.opts.URL).SetClientID(c.opts.ClientID).
		SetUsername(c.opts.Username).SetPassword(c.opts.Password).
		SetCleanSession(false). // the broker keeps what comes while we are away
		SetAutoAckDisabled(true).
		SetStore(forgetful{}).
		SetOrderMatters(true).                                                                // the handler only enqueues, and keeps the order
		SetDefaultPublishHandler(func(_ mqtt.Client, m mqtt.Message) { c.received(ctx, m) }). // redelivery may come before the subscription is made again
		SetConnectRetry(true).SetConnectRetryInterval(c.pause).
		SetAutoReconnect(true).SetMaxReconnectInterval(maxRetryPause).
		SetConnectTimeout(connectTimeout).SetKeepAlive(keepAlive).SetPingTimeout(pingTimeout).
		SetOnConnectHandler(func(client mqtt.Client) { c.connected(ctx, client) }).
		SetConnectionNotificationHandler(c.noticed).
		SetConnectionLostHandler(func(_ mqtt.Client, err error) {
			c.subscribed.Store(false)
			c.opts.Logger.Warn("connection to the broker lost", "error", err)
		})
	if c.opts.TLS != nil {
		o.SetTLSConfig(c.opts.TLS)
	}
	return o
}

// Connected says whether messages can come.
func (c *Client) Connected() bool { return c.subscribed.Load() }

// Run keeps the connection until ctx ends. It should outlive the intake, so
// that what the intake still commits is acknowledged. It can be run once.
func (c *Client) Run(ctx context.Context) error {
	client := mqtt.NewClient(c.libraryOptions(ctx))
	acknowledged := make(chan struct{})
	go func() {
		defer close(acknowledged)
		c.acknowledge(ctx)
	}()
	for {
		client.Connect() // tries until it succeeds
		select {
		case <-ctx.Done():
			<-acknowledged
			c.disconnect(client)
			return nil
		case <-c.failed:
		}
		// Only a new connection makes the broker deliver again.
		c.opts.Logger.Warn("reconnecting, to be sent again what was not committed")
		c.disconnect(client)
		select {
		case <-ctx.Done():
			<-acknowledged
			return nil
		case <-time.After(retryPause):
		}
	}
}

// acknowledge writes acknowledgements until ctx ends, and then those that wait.
// It does so beside the intake, whose next batch need not wait for them. The
// library drops one of a connection that is gone, whose number may belong to
// another message by now; the broker delivers such a message again.
func (c *Client) acknowledge(ctx context.Context) {
	for {
		select {
		case m := <-c.committed:
			m.Ack()
			continue
		default:
		}
		select {
		case m := <-c.committed:
			m.Ack()
		case <-ctx.Done():
			if len(c.committed) == 0 {
				return
			}
		}
	}
}

func (c *Client) disconnect(client mqtt.Client) {
	c.subscribed.Store(false)
	client.Disconnect(uint(goodbye.Milliseconds())) // #nosec G115 -- a constant of half a second
}

// connected subscribes anew. The library calls it in a goroutine of its own.
func (c *Client) connected(ctx context.Context, client mqtt.Client) {
	connection := c.connection.Add(1)
	c.lives(client)
	filters := map[string]byte{}
	for _, f := range c.opts.Filters {
		filters[f] = qos
	}
	for ctx.Err() == nil && c.connection.Load() == connection && client.IsConnectionOpen() {
		err := subscribe(client, filters)
		if err == nil {
			c.subscribed.Store(true)
			c.opts.Logger.Info("connected to the broker", "url", redacted(c.opts.URL), "filters", c.opts.Filters)
			return
		}
		c.opts.Logger.Error("the broker refuses the subscription", "error", err)
		select {
		case <-time.After(maxRetryPause):
		case <-ctx.Done():
		}
	}
}

// refused is the return code of a failed subscription (MQTT 3.1.1, section
// 3.9.3).
const refused = 0x80

func subscribe(client mqtt.Client, filters map[string]byte) error {
	token := client.SubscribeMultiple(filters, nil)
	if !token.WaitTimeout(connectTimeout) {
		return errors.New("no answer")
	}
	if token.Error() != nil {
		return token.Error()
	}
	if t, ok := token.(*mqtt.SubscribeToken); ok {
		for filter, code := range t.Result() {
			if code == refused {
				return fmt.Errorf("filter %s", filter)
			}
		}
	}
	return nil
}

// received is called for each message in turn.
func (c *Client) received(ctx context.Context, m mqtt.Message) {
	err := c.opts.Offer(ctx, intake.Message{Topic: m.Topic(), Payload: m.Payload(), Done: func(err error) {
		if err != nil {
			c.redeliver()
			return
		}
		select {
		case c.committed <- m:
			return
		default:
		}
		select {
		case c.committed <- m:
		case <-ctx.Done(): // nobody acknowledges any more; it is delivered again
		}
	}})
	if err != nil && !errors.Is(err, intake.ErrStopped) && ctx.Err() == nil {
		c.redeliver()
	}
}

// redeliver asks for a new connection.
func (c *Client) redeliver() {
	select {
	case c.failed <- struct{}{}:
	default:
	}
}
