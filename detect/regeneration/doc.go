// Package regeneration recognises a softener's regenerations in the minutes of
// its home.
package regeneration
