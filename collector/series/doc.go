// Package series keeps readings: the long memory of every home.
//
// Store is what the collector needs of a series store, small enough that a
// server can stand behind it as well as files. TSDB is the embedded one, on the
// storage library of Prometheus. A conformance test that every store must pass
// is in package seriestest.
//
// A reading is one value of one signal of one home at one millisecond. Storing
// it again changes nothing, so a message that is delivered twice does no harm.
//
// # Durability
//
// When Append has returned, the readings survive the death of the process and,
// unless Options.NoSync is set, of the machine. The library writes each commit
// to its log but leaves the flush to the operating system; syncer closes that
// gap by flushing the log's newest segments before Append returns. One flush
// serves all readings of a batch, so the caller should batch.
package series
