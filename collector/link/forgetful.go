package link

import (
	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// forgetful is the library's store for messages under way, which keeps nothing.
// The library would hand out again by itself what it had received on an older
// connection, but the broker delivers all of that again anyway, and we publish
// nothing.
type forgetful struct{}

var _ mqtt.Store = forgetful{}

func (forgetful) Open()                             {}
func (forgetful) Put(string, packets.ControlPacket) {}
func (forgetful) Get(string) packets.ControlPacket  { return nil }
func (forgetful) All() []string                     { return nil }
func (forgetful) Del(string)                        {}
func (forgetful) Close()                            {}
func (forgetful) Reset()                            {}
