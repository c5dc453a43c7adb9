// Package care is how a trouble is seen to its end, and by whom: people and what
// each may do, and cases with the steps that were taken.
//
// A case is all that is wrong at one home for one reason. A leak, the salt it
// burns and the regenerations that come early are one case, led by the alert
// nearest to the root. A case goes from open to closed by steps; every step says
// who took it and when, and nothing else changes a case, so that its history is
// the whole truth of it. After a repair it is not closed but watched: it closes
// by itself when the home has shown, by quiet nights and right regenerations,
// that the repair held, and opens again when it did not.
//
// The rules are tables with their reasons: rule.go says which step is possible at
// which stage, arrows.go which finding brings which other about, watches.go what
// must be seen after the repair of each cause, loss.go what a day of waiting
// costs. May.go says who may do what.
//
// Everything here is pure: no clock, no storage. Who asks gives the time.
package care
