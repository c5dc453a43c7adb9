// Package backup puts all that a collector has stored into one file, and takes it
// out again.
//
// The file is a tar archive with the state store (state.db) and, where readings
// are kept by the embedded store, its blocks (series/...), and at its end
// manifest.json, which names every file with its length and SHA-256 and says when
// and by which version it was made. A file without its manifest is half a backup
// and is refused.
//
// Whoever makes it first copies the stores to a folder on the same disk, where
// files that do not change are links and take no space: first the state, then the
// readings, so that the readings reach at least as far as what was concluded from
// them. A restored collector judges the rest again.
package backup
