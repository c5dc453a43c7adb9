// Package senml reads sensor measurement lists, RFC 8428, in their JSON and
// CBOR forms, and writes the JSON form.
//
// A pack is read in three steps, one file each. Syntax (json.go, cbor.go) gives
// records with the fields that were there. Resolution (resolve.go) carries the
// base fields forward and gives each record its full name, unit, time and
// value, as in RFC 8428 section 4.6. Meaning (reading.go, unit.go) makes it a
// reading: the name is home/device/signal, the unit one of the IANA SenML
// registry that fits the signal, converted to the signal's canonical unit.
//
// A record that makes no reading is reported with its reason and the others are
// kept. A pack that is no SenML at all, or demands an extension that is not
// known here, is refused as a whole.
//
// Beyond plain values: vb is accepted for a 0/1 signal; a sum (s) makes the
// running total of a pipe, by RFC 8428 section 4.2 in the record's unit times
// seconds, so a rate in l/s has its sum in litres. Since litres times seconds
// mean nothing, a sum beside the unit l or m3 is taken in that unit.
package senml
