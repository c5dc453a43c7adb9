// Package casebook keeps the cases: what is wrong at a home for one reason, from
// the first alert until a repair has held.
//
// It takes in what happens to alerts, what people do and say, and what a home
// shows after a repair, and writes steps. The rules are those of detect/care and
// pure; this package keeps their outcome in the state store.
//
// # Nothing twice, nothing lost
//
// Whoever changes an alert in the store leaves a note of it in the same
// transaction, by a trigger. The casebook takes the notes of a home in one
// transaction with the steps that follow from them, comparing each alert with
// how it was when last taken. So a kill at any point loses no step, and a
// restart or a re-run that finds the same alerts adds none. An alert that a
// re-run raises in place of another, being the same to people, takes its place
// in the case and nobody is told.
//
// What people must be told of is written to the outbox in that transaction too;
// package telling takes it from there.
//
// # Time
//
// The engine's steps bear the time of measurement at which they were due, also
// when they are written later; people's steps bear the clock's. The order of
// steps is that of writing.
//
// # History
//
// Steps and reports are only ever added, which the store enforces. A false word
// is set right by another. Erasing a home is the one exception.
package casebook
