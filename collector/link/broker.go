package link

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

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
	// Listener is where clients connect and Secure where they do over TLS; one
	// may be nil. The broker closes them. A client certificate that Secure's
	// configuration has verified says by its common name which device it is.
	Listener, Secure net.Listener
	// Users are names and passwords of those who may publish and read
	// everything, and Devices the devices that may publish on their own topics
	// and read nothing. When there are neither anyone may do everything, so the
	// listener should then be on a loopback address.
	Users   map[string]string
	Devices Devices
	// HomeOf says of which home readings on a topic are, if all are of one.
	// Without it devices have no topics but homes/<home>/sensors/<device>.
	HomeOf func(topic string) (home string, ok bool)
	// Refused is told of what was not allowed: on which topic, empty for a
	// client that was not let in, and why. It must not block. May be nil.
	Refused func(topic, why string)
	// Hello is how long a client may take to say who it is; DefaultHello when 0.
	Hello time.Duration
	// Wants says whether a topic is for the intake. Others are only passed on.
	Wants      func(topic string) bool
	Offer      Offer
	Logger     *slog.Logger          // nil for none
	Registerer prometheus.Registerer // nil for none
}

func (o BrokerOptions) validate() error {
	if o.Listener == nil && o.Secure == nil || o.Wants == nil || o.Offer == nil {
		return errors.New("embedded broker: a listener, Wants and Offer must be set")
	}
	return nil
}

// Broker is the embedded broker.
type Broker struct {
	opts   BrokerOptions
	server *mochi.Server
	doors  []*door
}

// NewBroker makes a broker, which works while Run does.
func NewBroker(opts BrokerOptions) (*Broker, error) {
	if err := opts.validate(); err != nil {
		return nil, err
	}
	if opts.Logger == nil {
		opts.Logger = slog.New(slog.DiscardHandler)
	}
	if opts.Hello == 0 {
		opts.Hello = DefaultHello
	}
	if opts.HomeOf == nil {
		opts.HomeOf = func(string) (string, bool) { return "", false }
	}
	if opts.Refused == nil {
		opts.Refused = func(string, string) {}
	}
	capabilities := mochi.NewDefaultServerCapabilities()
	capabilities.MaximumPacketSize = maxPacket
	// With an alias a message comes without its topic, and what a client may
	// publish is asked before the alias is known.
	capabilities.TopicAliasMaximum = 0
	b := &Broker{opts: opts, server: mochi.New(&mochi.Options{Capabilities: capabilities, Logger: opts.Logger})}
	if opts.Registerer == nil {
		return b, nil
	}
	return b, opts.Registerer.Register(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "brinebell_broker_clients",
		Help: "Clients connected to the embedded broker."}, func() float64 { return float64(b.server.Info.Clone().ClientsConnected) }))
}

// Addr is where clients connect, over TLS if there is no other way.
func (b *Broker) Addr() net.Addr {
	if b.opts.Listener == nil {
		return b.opts.Secure.Addr()
	}
	return b.opts.Listener.Addr()
}

// listen takes clients of both listeners.
func (b *Broker) listen() (err error) {
	for _, l := range []struct {
		id string
		net.Listener
	}{{"mqtt", b.opts.Listener}, {"mqtts", b.opts.Secure}} {
		if l.Listener != nil {
			d := newDoor(l.Listener, b.opts.Hello, b.opts.Logger)
			b.doors = append(b.doors, d)
			err = errors.Join(err, b.server.AddListener(listeners.NewNet(l.id, d)))
		}
	}
	return err
}

// closeListeners is for when nothing has been served.
func (b *Broker) closeListeners() error {
	var errs []error
	for _, l := range []net.Listener{b.opts.Listener, b.opts.Secure} {
		if l != nil {
			errs = append(errs, l.Close())
		}
	}
	return errors.Join(errs...)
}

// Run serves until ctx ends. It can be run once.
func (b *Broker) Run(ctx context.Context) error {
	err := errors.Join(
		b.server.AddHook(&commitHook{opts: b.opts, gate: gate{opts: b.opts, passes: map[*mochi.Client]*pass{}},
			offer: func(m intake.Message) error { return b.opts.Offer(ctx, m) }}, nil),
		b.listen())
	if err == nil {
		err = b.server.Serve()
	}
	if err != nil {
		return errors.Join(fmt.Errorf("embedded broker: %w", err), b.closeListeners())
	}
	<-ctx.Done()
	for _, d := range b.doors {
		d.shut()
	}
	return b.server.Close()
}

// commitHook commits messages before they are acknowledged, and has the gate say
// who may do what.
type commitHook struct {
	mochi.HookBase
	opts  BrokerOptions
	gate  gate
	offer func(intake.Message) error
}

// ID names the hook in the broker's log.
func (h *commitHook) ID() string { return "commit" }

// Provides says which events the hook takes part in.
func (h *commitHook) Provides(event byte) bool {
	return event == mochi.OnPublish || event == mochi.OnConnectAuthenticate || event == mochi.OnACLCheck || event == mochi.OnDisconnect
}

// OnConnectAuthenticate lets in who has proved who they are.
func (h *commitHook) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	return h.gate.admit(cl, pk)
}

// OnDisconnect forgets a client.
func (h *commitHook) OnDisconnect(cl *mochi.Client, _ error, _ bool) { h.gate.leave(cl) }

// OnACLCheck says what a client may publish and read.
func (h *commitHook) OnACLCheck(cl *mochi.Client, topic string, write bool) bool {
	return h.gate.allows(cl, topic, write)
}

// OnPublish commits a message. Of all errors only ErrRejectPacket keeps the
// broker from acknowledging to a client of MQTT 3.1.1; such a client sends
// again when it connects anew, so it is disconnected.
func (h *commitHook) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if !h.gate.trusts(cl) {
		pk.FixedHeader.Retain = false // nothing of a device's is kept for readers that there are not
	}
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
