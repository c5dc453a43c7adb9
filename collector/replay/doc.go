// Package replay runs recordings through the engine, as fast as the machine
// allows.
//
// Readings are merged by time over all files and dealt to as many engines as
// there are cores, a home always to the same one. A recording is expected in
// the order of time, as everything that records writes it; where it is not (a
// file sorted by signal, say), the replay begins anew and sorts each home's
// readings in memory first, so that the alerts are the same.
package replay
