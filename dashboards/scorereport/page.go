package scorereport

import (
	"io"

	"brinebell/detect/score"
)

// Page is a page to be written.
type Page struct {
	Title  string
	Report *score.Report
	Change *score.Change // against a baseline; may be nil
}

// Write writes the page.
func (p Page) Write(w io.Writer) error { return nil }
