package intake

import (
	"context"
	"errors"

	"brinebell/detect"
)

// ErrStopped means that a message was not taken in because the intake has
// stopped. It must not be acknowledged.
var ErrStopped = errors.New("intake has stopped")

// Message is what a broker link hands in.
type Message struct {
	Topic   string
	Payload []byte // not changed by the link until Done
	// Done is called exactly once: with nil when the message may be
	// acknowledged, otherwise with the reason why it must be sent again. It must
	// not block.
	Done func(error)
}

// Judge is who judges committed readings.
type Judge interface {
	// Observe judges readings that the store holds. It returns when a restart
	// would not forget them: from then on they may be acknowledged. The slice
	// is the caller's and must not be kept.
	Observe(ctx context.Context, readings []detect.Reading) error
}

// Reason names why a message, or a record in it, was not used.
type Reason string

// The reasons, beside those of the payload codecs.
const (
	UnknownTopic Reason = "unknown_topic" // nobody's topic
	BadPayload   Reason = "bad_payload"   // neither a SenML pack nor what the adapter expects
	WrongHome    Reason = "wrong_home"    // the pack names another home than the topic
	UnknownHome  Reason = "unknown_home"  // no home has this id
	Future       Reason = "future"        // measured more than a day from now
	TooOld       Reason = "too_old"       // older than the series store takes in
	Refused      Reason = "refused"       // by the series store, for another reason
	Conflict     Reason = "conflict"      // another value of that signal and millisecond is stored
	NotAllowed   Reason = "not_allowed"   // its sender may not publish here
	Implausible  Reason = "implausible"   // cannot be a measurement
)
