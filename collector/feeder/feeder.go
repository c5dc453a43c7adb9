package feeder

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"brinebell/collector/senml"
	"brinebell/detect"
)

// The defaults of Options.
const (
	DefaultPack    = 5 * time.Minute
	DefaultRecords = 1000
	// DefaultInFlight is how many packs may be without their acknowledgement:
	// enough to keep a broker busy, few enough that it never queues for long.
	DefaultInFlight = 64
	// connectTimeout is for a broker on the same network.
	connectTimeout = 15 * time.Second
	// quiesce is how long a closing connection may finish, ms. Everything has
	// been acknowledged by then.
	quiesce = 250
)

// Options say where and how to publish. Only URL is required.
type Options struct {
	URL                string // tcp://, ssl:// or ws:// host:port
	ClientID           string // one at a time each; drawn by the broker when empty
	Username, Password string
	TLS                *tls.Config
	Pack               time.Duration // of a home's own time in one message
	Records            int           // most readings in one message
	InFlight           int           // most messages not yet acknowledged
}

func (o Options) withDefaults() Options {
	if o.Pack <= 0 {
		o.Pack = DefaultPack
	}
	if o.Records <= 0 {
		o.Records = DefaultRecords
	}
	if o.InFlight <= 0 {
		o.InFlight = DefaultInFlight
	}
	return o
}

// Feeder publishes. It is not safe for concurrent use.
type Feeder struct {
	options Options
	client  mqtt.Client
	waiting map[string][]detect.Reading // by home
	order   []string                    // as first seen, so that what is flushed is the same each time
	flying  []mqtt.Token                // oldest first
}

// device is what a home's readings are published as: one box that gathers them.
const device = "hub"

// ErrNoURL means that the options name no broker.
var ErrNoURL = errors.New("feeder: no broker URL")

// Connect connects to the broker.
func Connect(ctx context.Context, o Options) (*Feeder, error) {
	if o.URL == "" {
		return nil, ErrNoURL
	}
	o = o.withDefaults()
	c := mqtt.NewClientOptions().AddBroker(o.URL).SetClientID(o.ClientID).SetUsername(o.Username).SetPassword(o.Password).
		SetTLSConfig(o.TLS).SetConnectTimeout(connectTimeout).SetAutoReconnect(true).SetCleanSession(true)
	f := &Feeder{options: o, client: mqtt.NewClient(c), waiting: map[string][]detect.Reading{}}
	if err := wait(ctx, f.client.Connect()); err != nil {
		return nil, fmt.Errorf("connect to %s: %w", o.URL, err)
	}
	return f, nil
}

// Add publishes a reading with its home's next pack. Readings of one home must
// come in the order in which they are to be sent.
func (f *Feeder) Add(ctx context.Context, r detect.Reading) error {
	w, known := f.waiting[r.Home]
	if !known {
		f.order = append(f.order, r.Home)
	}
	w = append(w, r)
	f.waiting[r.Home] = w
	if len(w) < f.options.Records && r.Time.Sub(w[0].Time) < f.options.Pack {
		return nil
	}
	return f.publish(ctx, r.Home)
}

// Flush publishes what waits and waits for every acknowledgement.
func (f *Feeder) Flush(ctx context.Context) error {
	for _, home := range f.order {
		if err := f.publish(ctx, home); err != nil {
			return err
		}
	}
	return f.land(ctx, 0)
}

// Close flushes and disconnects.
func (f *Feeder) Close(ctx context.Context) error {
	err := f.Flush(ctx)
	f.client.Disconnect(quiesce)
	return err
}

func (f *Feeder) publish(ctx context.Context, home string) error {
	w := f.waiting[home]
	if len(w) == 0 {
		return nil
	}
	payload, err := senml.AppendJSON(nil, device, w)
	if err != nil {
		return fmt.Errorf("encode readings of %s: %w", home, err)
	}
	f.waiting[home] = w[:0]
	f.flying = append(f.flying, f.client.Publish("homes/"+home+"/sensors/"+device, 1, false, payload))
	return f.land(ctx, f.options.InFlight)
}

// land waits until at most n messages are without their acknowledgement.
func (f *Feeder) land(ctx context.Context, n int) error {
	for len(f.flying) > n {
		if err := wait(ctx, f.flying[0]); err != nil {
			return fmt.Errorf("publish to %s: %w", f.options.URL, err)
		}
		f.flying = f.flying[1:]
	}
	return nil
}

func wait(ctx context.Context, t mqtt.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}
