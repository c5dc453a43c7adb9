// Package cause says what can be behind a finding: how likely each cause is,
// what it is called, and which check settles it.
//
// The table of likelihoods is in table.go, the texts are in text.go; both are
// meant to be read by a technician.
package cause
