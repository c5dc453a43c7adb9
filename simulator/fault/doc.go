// Package fault says what breaks in a simulated home, when, how fast and how
// badly, and in which part of the simulation each cause acts. It is the truth
// that a detector is scored against.
package fault
