// Package simulator makes homes that do not exist, as an instrument to measure
// detectors with: what their people draw, what their softener does, what breaks
// and when, and what cheap sensors make of it all, with the truth beside it.
//
// A Home joins the four: a household asks for water, a plant answers with flows,
// levels and pressures, faults break either, and devices report. It advances
// from event to event: through an idle night in steps of a minute, through a
// shower in steps of ten seconds, never across the start or end of a use.
// A Town advances many homes on several cores and merges what arrives into the
// order of time, at constant memory.
//
// Everything follows from the seed and the home's index. The bytes are the same
// whatever the number of cores and however many homes there are beside it, and
// flows are rounded before they are summed, so that a processor that fuses
// multiplications makes no difference.
//
// Nothing here knows how a detector judges: only the vocabulary of package
// detect is shared.
package simulator
