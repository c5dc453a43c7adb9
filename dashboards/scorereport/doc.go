// Package scorereport draws a score of the detectors as one page that needs
// nothing beside it: pictures are inline SVG, colours follow the reader's light
// or dark scheme, and every picture has its numbers in a table.
package scorereport
