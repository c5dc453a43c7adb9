// Package web is the pages that people open: all homes with the worst first,
// one home with its alerts and the pictures of its last days, its regenerations
// as a table, and each of them as a picture.
//
// Everything is rendered on the server. A page is whole without JavaScript; a
// little of it swaps in the fresh page when the server says that something
// changed. Nothing is fetched from elsewhere, and the content security policy
// says so to the browser.
//
// The path of a request: a handler (one per page, in the file of its name) asks
// the Source, makes a view of plain words and drawn pictures, and a template
// lays it out. Views hold only text that is ready to be read, in the household's
// units and its own clock; so the templates decide nothing, and what a page says
// can be tested without HTML. Words stand in words.go, in one place.
//
// How a home is follows from its open alerts alone: the package judges nothing
// by itself. And it never promises more than the sensors can see; each home's
// page ends with what they cannot.
//
// Readings of pipes come as flow, or are derived from the meter's total where a
// home has no other (package chart draws them). Time is the time of measurement:
// "now" at a home is its newest reading, so a page of a recording or of
// accelerated time reads like a live one.
package web
