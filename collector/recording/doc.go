// Package recording reads and writes recordings: files of readings that can be
// replayed.
//
// There are two forms. The CSV form has the header time,home,signal,value; time
// is RFC 3339 or Unix seconds with a fraction, values are in the signal's
// canonical unit. The SenML form is one RFC 8428 JSON pack a line, with units by
// the IANA registry. Either may be gzipped, and "-" is the standard input.
//
// A bad line is counted, the first few are kept with their place and reason,
// and reading goes on; with Options.Strict the first one ends it. A recording
// of a year at a minute's pace is tens of millions of lines, so a line costs no
// allocation: fields are parsed where they lie and home ids are kept once.
//
// Times are truncated to the millisecond, as they are on the way into the
// series store, so that a replay sees exactly what the live system saw.
package recording
