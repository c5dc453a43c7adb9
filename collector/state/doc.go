// Package state keeps, in SQLite, what the collector knows beside readings: the
// homes' profiles, alerts, recognised regenerations with what the books say of
// each, and snapshots of the judging of each home from which it resumes. Another
// process may read it meanwhile: see OpenToRead.
//
// What follows from readings is saved in one transaction per home, so that a
// snapshot is never newer than the alerts that led to it. The judge may be
// killed at any point: it resumes from the newest snapshot, reads the stored
// readings after it and arrives at the same alerts, whose ids follow from home,
// kind and onset. Saving one again changes nothing.
//
// An alert that a later run over more complete readings no longer raises is not
// deleted, since somebody may have been told of it: it is marked as withdrawn,
// and stands again if yet another run raises it after all. If the later run
// raises one of the same kind and time with another onset, and so another id, it
// is noted as what supersedes it: to people it is the same alert.
package state
