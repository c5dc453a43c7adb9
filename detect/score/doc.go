// Package score says how good the detectors are, against homes whose faults are
// known.
//
// Episodes (what was wrong, where, from when to when, how badly), alerts and
// exposures (which home was watched, for how long) go in; a Report comes out.
// In between stands the rule by which an alert belongs to an episode, one row
// per cause in rules.go, meant to be read by a technician:
//
//   - An alert of one of the row's Finds, raised after the episode's onset and
//     not later than Grace after its end, finds it; when it comes later than
//     Delay after the onset, it is right but too late, and the episode counts
//     as missed.
//   - An alert of one of the row's Follows, raised from onset to Aftermath after
//     the end, is a consequence: it found nothing, but is no false alarm
//     either. So is every alert of a row's Finds in that time, and "unusual",
//     which claims no cause.
//   - Every other alert is a false alarm, also one that was standing before the
//     onset.
//   - One alert may belong to several episodes that overlap. A further alert of
//     a kind that has already found the episode is a repeat.
//
// An episode that no alert finds is missed, with three exceptions that are
// counted beside and never left out: it was not visible to the sensors the home
// has; it was masked, since an alert of its kind already stood for another
// fault; or it is undecided, since the recording ended before a sensible delay
// had passed.
//
// Intervals are at 95 %: exact binomial ones for shares (Clopper and Pearson
// 1934), percentile bootstrap over homes for rates, since the false alarms of
// one home come together. The same input gives the same report: random numbers
// come from a function the caller gives.
package score
