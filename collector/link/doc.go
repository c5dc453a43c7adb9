// Package link brings messages from a broker to the intake and its
// acknowledgements back.
//
// Client is the link to any MQTT broker. It holds a persistent session at
// quality of service 1 and acknowledges a message only after the intake has
// committed it, so a message that was under way when the process died is
// delivered again. The broker must be allowed to keep what it cannot deliver.
// For Mosquitto, whose defaults drop most of a burst, that is:
//
//	persistence true
//	max_queued_messages 0
//	max_inflight_messages 0
//	queue_qos0_messages true   # only if sensors publish at QoS 0
//
// and a per-listener max_packet_size as large as the sensors' packs.
//
// Broker is a broker of our own, for demonstrations and small installations. It
// commits inside its publish hook, before the publisher gets its PUBACK; a
// message that cannot be committed is not acknowledged and its sender
// disconnected, which makes it send again. It needs no session store for that.
// It does not subscribe to itself: that way messages are acknowledged to their
// publishers before they are stored.
package link
