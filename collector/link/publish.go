package link

import (
	"context"
	"errors"
	"fmt"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// ErrNotConnected means that the broker cannot be reached just now.
var ErrNotConnected = errors.New("broker link: not connected")

// Publish publishes a message at quality of service 1 and waits until the broker
// has it.
func (c *Client) Publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	client := c.live.Load()
	if client == nil || !(*client).IsConnectionOpen() {
		return ErrNotConnected
	}
	ctx, cancel := context.WithTimeout(ctx, connectTimeout)
	defer cancel()
	token := (*client).Publish(topic, qos, retain, payload)
	select {
	case <-token.Done():
		if err := token.Error(); err != nil {
			return fmt.Errorf("broker link: %w", err)
		}
		return nil
	case <-ctx.Done(): // the library keeps nothing for later; see forgetful
		return fmt.Errorf("broker link: no acknowledgement of %s: %w", topic, ctx.Err())
	}
}

// lives notes the connection that messages can be published on.
func (c *Client) lives(client mqtt.Client) { c.live.Store(&client) }

// Publish publishes a message to whoever has subscribed.
func (b *Broker) Publish(_ context.Context, topic string, payload []byte, retain bool) error {
	own := b.server.NewClient(nil, mochi.LocalListener, "collector", true)
	err := b.server.InjectPacket(own, packets.Packet{
		FixedHeader: packets.FixedHeader{Type: packets.Publish, Qos: qos, Retain: retain},
		TopicName:   topic, Payload: payload,
		PacketID: 1, // looked at only to be there
	})
	if err != nil {
		return fmt.Errorf("embedded broker: %w", err)
	}
	return nil
}
