package link

import (
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/intake"
)

// maxPacket is the largest message the embedded broker takes: a pack of some
// ten thousand records.
const maxPacket = 1 << 20

// BrokerOptions say how the embedded broker works. Listener, Wants and Offer
// must be set.
type BrokerOptions struct {
	// Listener is where clients connect; the broker closes it.
	Listener net.Listener
	// Users are names and passwords of those who may connect. When it is empty
	// anyone may, so the listener should then be on a loopback address.
	Users map[string]string
	// Wants says whether a topic is for the intake. Others are only passed on.
	Wants      func(topic string) bool
	Offer      Offer
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o BrokerOptions) validate() error {
	if o.Listener == nil || o.Wants == nil || o.Offer == nil {
		return errors.New("embedded broker: Listener, Wants and Offer must be set")
	}
	return nil
}

// Broker is the embedded broker.
type Broker struct {
	opts   BrokerOptions
	server *mochi.Server
}

// NewBroker makes a broker, which works while Run does.
func NewBroker(opts BrokerOptions) (*Broker, error) {
	if err := opts.validate(); err != nil {
		return nil, err
	}
	if opts.Logger == nil {
		opts.Logger = slog.New(slog.DiscardHandler)
	}
	capabilities := mochi.NewDefaultServerCapabilities()
	capabilities.MaximumPacketSize = maxPacket
	b := &Broker{opts: opts, server: mochi.New(&mochi.Options{Capabilities: capabilities, Logger: opts.Logger})}
	if opts.Registerer == nil {
		return b, nil
	}
	return b, opts.Registerer.Register(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_broker_clients",
		Help: "Clients connected to the embedded broker."}, func() float64 { return float64(b.server.Info.Clone().ClientsConnected) }))
}

// Addr is where clients connect.
func (b *Broker) Addr() net.Addr { return b.opts.Listener.Addr() }

// Run serves until ctx ends. It can be run once.
func (b *Broker) Run(ctx context.Context) error {
	err := errors.Join(
		b.server.AddHook(&commitHook{opts: b.opts, offer: func(m intake.Message) error { return b.opts.Offer(ctx, m) }}, nil),
		b.server.AddListener(listeners.NewNet("mqtt", b.opts.Listener)))
	if err == nil {
		err = b.server.Serve()
	}
	if err != nil {
		return errors.Join(fmt.Errorf("embedded broker: %w", err), b.opts.Listener.Close())
	}
	<-ctx.Done()
	return b.server.Close()
}

// commitHook commits messages before they are acknowledged, and says who may do
// what.
type commitHook struct {
	mochi.HookBase
	opts  BrokerOptions
	offer func(intake.Message) error
}

// ID names the hook in the broker's log.
func (h *commitHook) ID() string { return "commit" }

// Provides says which events the hook takes part in.
func (h *commitHook) Provides(event byte) bool {
	return event == mochi.OnPublish || event == mochi.OnConnectAuthenticate || event == mochi.OnACLCheck
}

// OnConnectAuthenticate lets those in who are known, or anyone when nobody is.
func (h *commitHook) OnConnectAuthenticate(_ *mochi.Client, pk packets.Packet) bool {
	users := h.opts.Users
	if len(users) == 0 {
		return true
	}
	password, known := users[string(pk.Connect.Username)]
	return subtle.ConstantTimeCompare([]byte(password), pk.Connect.Password) == 1 && known
}

// OnACLCheck keeps clients from writing the broker's own topics.
func (h *commitHook) OnACLCheck(_ *mochi.Client, topic string, write bool) bool {
	return !write || !strings.HasPrefix(topic, "$")
}

// OnPublish commits a message. Of all errors only ErrRejectPacket keeps the
// broker from acknowledging to a client of MQTT 3.1.1; such a client sends
// again when it connects anew, so it is disconnected.
func (h *commitHook) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if !h.opts.Wants(pk.TopicName) {
		return pk, nil
	}
	done := make(chan error, 1)
	err := h.offer(intake.Message{Topic: pk.TopicName, Payload: pk.Payload, Done: func(err error) { done <- err }})
	if err == nil {
		err = <-done
	}
	if err != nil {
		h.opts.Logger.Warn("a message was not committed and not acknowledged", "client", cl.ID, "topic", pk.TopicName, "error", err)
		if !cl.Net.Inline {
			cl.Stop(err)
		}
		return pk, packets.ErrRejectPacket
	}
	return pk, nil
}
