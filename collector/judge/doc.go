// Package judge has committed readings judged, home by home, and keeps what
// comes of it.
//
// Each home has a desk: an engine of its own and what has not been saved yet.
// Desks are spread over shards, so that several cores work at once; a shard is
// worked by one goroutine at a time.
//
// # What survives
//
// Observe returns when the readings are in their engines, not when every
// consequence is on disk. That is enough: the readings are in the series store,
// and a desk begins by restoring its newest snapshot and reading the store from
// there on, which leads to the same alerts with the same ids. Snapshots are
// taken in the time of measurement and saved in one transaction with the alerts
// before them.
//
// # Late readings
//
// A reading from before what its engine has judged already is late. Its home is
// judged again from the newest snapshot before it, over everything in the
// store, so that its alerts come out as if it had come in time. A sensor that
// comes back uploads many, so the re-run waits for a pause. The wish for it is
// on disk before the reading is acknowledged, in case the process is killed.
//
// A re-run, and so every start, takes back what it does not find again: see
// package state on withdrawn alerts.
package judge
