// Package books keeps the accounts of one softener: water through it and past
// it, hardness taken out against the capacity the last salt can have restored,
// what each regeneration used and what of it was missing, and the salt in the
// tank with the day it runs out.
//
// A Ledger is fed two things in order of time: every minute of the home, and
// every regeneration once it is recognised. Both may lack anything. What nobody
// saw is unknown and stays so: it is NaN inside, null in JSON, and never zero. A
// regeneration is recognised only after it has ended, so the ledger keeps the
// water of the last eight hours by the minute and corrects what it had booked
// meanwhile: water that rinsed the bed is no use, and water drawn while the bed
// was being rinsed is not softened.
//
// Each regeneration is held against two things: the programme, which says what
// should have happened, and the home's own past, which says what usually does.
// The past is the last sixteen regenerations by median and median deviation, and
// one that is out of proportion, cut short or doubtful does not teach it. So a
// plugged injector stays out of proportion however long it lasts, and a tank
// whose shape was measured badly is still compared with itself.
//
// Salt is weighed by the sensor over it where there is one. Elsewhere it is
// reckoned from what people say they filled in and what the regenerations took
// out, and the stated uncertainty grows with the salt taken out since. A sudden
// rise of the brine that no refill explains hints that somebody filled salt: the
// books then say that they no longer know well.
//
// The day the salt runs out is the day on which the tank no longer holds one
// dose. Its interval comes from how the home's use spreads from day to day and
// week to week, from how long it has been watched, and from how well the salt is
// known; it is meant to hold the day four times out of five, and a test counts.
//
// All state is exported so that encoding/gob keeps it exactly; Attach gives a
// restored ledger its profile back. A ledger is about 6 KiB, Step costs some
// tens of nanoseconds and allocates nothing. Not safe for concurrent use.
package books
