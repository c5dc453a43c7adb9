// Package intake is the one way in for readings, whichever broker they come
// from: decode, commit to the series store, hand to the judge, acknowledge.
//
// Messages are offered to a bounded queue. A single worker takes whatever waits,
// up to a batch, decodes it, commits all its readings at once and only then
// calls each message's Done, upon which its link acknowledges it to the sender.
// While a batch is being flushed to the disk the next one gathers, so that the
// cost of a flush is shared by more messages the more there are. A full queue
// makes senders wait; nothing is dropped.
//
// What cannot be used is counted by reason and kept in the quarantine, which is
// bounded and can be looked into. It is acknowledged all the same: sending it
// again would not make it better.
package intake
