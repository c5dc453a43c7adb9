// Package mailpicture draws the evidence of an alert as a PNG, for mails.
//
// The pages draw theirs as SVG with the page's own colours, which mail programs
// do not show. Here the picture has to stand alone: fixed size, dark on white,
// the home's own clock and units, and a sentence for those who do not see it.
package mailpicture
