// Package collector brings readings from a broker to disk and what follows from
// them to people.
//
// A message's way in, one package for each step:
//
//	link       a broker elsewhere, or the embedded one
//	senml      payloads by RFC 8428; adapter: sensors with a format of their own
//	intake     decode, commit, judge, acknowledge, in that order
//	series     the readings on disk
//	judge      an engine for each home, re-run for late readings, resumed after a kill
//	state      homes, alerts, regenerations, snapshots
//	people     who may come in: people, tokens, devices, and who did what
//	casebook   cases: related alerts, what people do about them, whether it held
//	telling    an outbox, and the channels on which people are told
//
// Package recording reads and writes the same readings as files. Collector wires
// the parts and answers what pages ask.
//
// A reading is acknowledged to its sender when it is on disk and its judging
// cannot be forgotten, not before: the sender keeps it until then. So the
// process can be killed at any point and neither loses a reading nor raises an
// alert twice.
package collector
