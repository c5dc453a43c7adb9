// Package series keeps readings: the long memory of every home.
//
// Store is what the collector needs of a series store, small enough that a
// server can stand behind it as well as files. TSDB is the embedded one, on the
// storage library of Prometheus; package influx keeps readings in an InfluxDB, and
// package spool lets them wait on disk while that cannot take them. A conformance
// test that every store must pass is in package seriestest.
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
//
// # Growing old
//
// Readings are kept for Options.Retention. Before a day is deleted, its sums of
// five minutes and of an hour (least, mean, greatest, how many) go to two small
// stores in the folder sums, which keep them for longer; History gives them. A day
// is summed up once, when late readings cannot come any more, and no block is
// deleted that is not summed up.
//
// # Damage
//
// Open moves blocks that do not open to the folder damaged and says so; after a
// crash it also reads the logs through. A log's torn end is cut off, as it was
// never acknowledged. Of a log that is damaged further in, the library alone would
// drop all that follows; here the rest is read from a copy, page by page, and
// stored again. Check reads everything against its checksums, Snapshot copies a
// store that is in use.
package series
