// Package spool keeps readings on disk until the store behind it has taken them.
//
// A server that holds the series may be down, cut off, slow or full. Whoever
// appends to the spool does not notice: Append returns when the readings have
// been flushed to the spool's files, and Run hands them on, in the order in which
// they came. So a reading that was acknowledged is always in the spool or in the
// store, and mostly for a moment in both.
//
// # On disk
//
// The folder holds numbered segments, each a row of frames (see frame.go): one
// frame is one batch, with a checksum. Appends that come together share one
// write and one flush. What a crash or power cut has left half-written at the end
// is cut off when the spool is opened, and said; it was never acknowledged. A
// frame damaged in the middle is moved aside, said and counted, and the frames
// after it are found again by their mark. "position" says up to where the store
// has everything; it may lag, as storing a reading twice changes nothing.
//
// # When it is full
//
// The spool never throws readings away. At its limit Append fails with ErrFull,
// the messages are not acknowledged, and the broker or the sensors keep them.
//
// # What the store refuses
//
// A reading that the store refuses for its own sake is written to refused.csv
// with the store's reason and counted, and the rest goes on. Everything else is
// tried again, ever more slowly up to a pause of maxPause, for as long as it takes.
//
// # Reading
//
// Reads see what waits as well as what is stored: first the spool is looked
// through, then the store is asked, so that a reading that moves meanwhile is seen
// at least once. Of two values for one millisecond the one that came last is
// given, as the server will keep that. While the store cannot be asked a read
// fails: half of a home's readings would be judged wrongly.
package spool
