// Package influx keeps readings in an InfluxDB: the server that a firm with
// many homes runs already. It speaks the version 2 interfaces, for writing and
// for reading in Flux, so that it works with InfluxDB 2 and with 1.8, where Flux
// must be switched on (flux-enabled = true below [http]) and a bucket is named
// "database/retention policy".
//
// # Layout
//
// A signal is a measurement with the signal's identifier as its name, the home is
// the tag "home", and the number is the field "value":
//
//	inlet_flow,home=mill-lane-4 value=7.25 1772366400000
//
// # What it promises and what not
//
// Append is synchronous: when it returns, the server has answered that it holds
// the points. A point written twice is one point; of two values for one
// millisecond the last written stays, as the server overwrites. What the server
// refuses for the points' own sake is found by halving the batch, so that one bad
// point does not keep the others out. Everything else that can go wrong (no
// connection, a full disk, an unknown bucket, a wrong token) is
// series.ErrUnavailable and means: the same again, later. Nothing is queued here;
// package spool does that, on disk.
//
// Client libraries offer to queue in memory and to try again by themselves.
// Measured over an outage of a minute, such a queue lost three points of four; so
// only the blocking call is used.
package influx
