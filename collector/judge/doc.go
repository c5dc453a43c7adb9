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
// # Starting
//
// Readings are taken from the first moment on. A desk sleeps until its turn has
// come to be brought up to the store; what arrives for it meanwhile it will find
// there, and what is older than its snapshot is noted as late. A page that asks
// for its books wakes it out of turn. So ten thousand homes make a sensor wait
// no longer than one, though alerts may come as much later as it takes.
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
