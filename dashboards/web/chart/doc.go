// Package chart draws the pictures of the pages as inline SVG.
//
// A picture is one or more panels above each other on a common time axis, with
// bands behind them for what happened meanwhile: regenerations, the span of an
// alert, the phases of a regeneration.
//
// Three choices make a picture fit its page. It has no fixed width: curves are
// drawn in a box that stretches, while words, lines and bands are placed in per
// cent, so that text keeps its size from a phone to a desk. It has no colours:
// each part carries a class and the page's style sheet colours it, in light and
// in dark. And it speaks: every picture has a title and a description for those
// who do not see it; the caller puts the numbers in a table beside it.
//
// Ticks of values come from gonum's plot package. Ticks of time are the local
// midnights and round hours of the home, also where the clocks change.
package chart
