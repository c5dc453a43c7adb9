// Package web is the pages that people open.
//
// A household sees how its home is in one sentence, what to do and why, what is
// left of soft water and salt, its water by day, hour and night, its
// regenerations, and what its sensors cannot see; it reports what it notices,
// says that it is away, and answers a question in one tap. A firm sees its homes
// by what waiting costs, searches them, plans its salt round, and how all of them
// do against their limits. A case has its evidence as a picture, its causes argued,
// the next check, what was done and what can be done, a visit sheet to print, and
// before and after a repair in one picture. Developers replay recordings and look
// inside the detectors, and see what came in and was not understood.
//
// Everything is rendered on the server. A page is whole without JavaScript, and
// everything that changes something is a plain form; a little JavaScript swaps in
// the fresh page when the server says that something changed, unless somebody is
// writing. Nothing is fetched from elsewhere, and the content security policy says
// so to the browser.
//
// The path of a request: the asker is put into it (asker.go: who, language,
// units); a handler, one per page in the file of its name, asks the Source and,
// where they are, Cases and People; it makes a view of plain words and drawn
// pictures; and a template lays it out. Views hold only text that is ready to be
// read, in the reader's language and units and the home's own clock; so the
// templates decide nothing, and what a page says can be tested without HTML. Every
// word stands in the catalogue of package texts, in every language side by side; a
// summary of an alert is put together from its evidence there, and is the
// detector's own where the catalogue cannot.
//
// Pages of many homes choose from a board: all that they say of each home, worked
// out ahead by Run (board.go). Ten thousand homes so cost a page no more than ten.
//
// How a home is follows from its open alerts and its newest reading alone: the
// package judges nothing by itself. A home from which nothing has arrived lately is
// not called quiet. And no page promises more than the sensors can see.
//
// Readings of pipes come as flow, or are derived from the meter's total where a
// home has no other (package chart draws them). Time is the time of measurement:
// "now" at a home is its newest reading, so a page of a recording or of accelerated
// time reads like a live one.
package web
