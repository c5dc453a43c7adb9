// Package telling brings what happens in cases to people: by mail, by gateways to
// chat, push and text messages, by webhooks, and to programs at the MQTT broker.
//
// # From a step to a message
//
//	casebook   writes a step, and in the same transaction its number to the outbox
//	fan        one message for each person and channel that is to hear of the step
//	bundle     what is due for one person and channel goes out as one delivery
//	deliver    tries, again and again with growing pauses, until it is taken
//
// Each arrow is one transaction, and each message is unique by step, person,
// channel and repetition. So after a kill at any point a step is told to nobody
// twice, and to nobody not at all.
//
// The one doubt that no mail server and no webhook can take away is a kill
// between their answer and our noting it. The delivery is then made again, under
// the same number: a mail has the same Message-ID, a webhook the same webhook-id
// and CloudEvents id, by which the receiver knows it. A retained MQTT message is
// the same whenever it is sent.
//
// # When
//
// What is to be acted on now is told at any hour, and again after ten minutes and
// then at doubling pauses, at most every two hours, until somebody takes the case.
// Everything else waits for the hours of the channel, or the waking hours of the
// home. What has come together by then goes out as one. A channel that wants a
// digest gets one message a day.
//
// Nobody gets more than a few messages an hour on a channel; what is more is not
// dropped but put together into the next.
//
// # Secrets
//
// The outbox knows a channel by a fingerprint. Addresses, gateway URLs and keys
// are read from the people's store when something goes out, and never written to
// a log: an error of a gateway, whose text may hold its URL, is told by its kind.
package telling
