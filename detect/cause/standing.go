package cause

import (
	"fmt"

	"brinebell/detect"
)

const (
	// clear is from what probability the first cause is told without more words.
	clear = 0.5
	// slight is below what probability no cause can be called the likely one.
	slight = 0.25
)

// Standing says how far the first of the ranked causes can be relied on, to be
// told above them; empty when it is likelier than not.
func Standing(ranked []detect.CauseShare) string {
	switch {
	case len(ranked) == 0:
		return "Nothing points to any one cause."
	case ranked[0].Probability >= clear:
		return ""
	case ranked[0].Probability >= slight:
		return fmt.Sprintf("More than one cause is possible; the likeliest of them, with %.0f in 100:", 100*ranked[0].Probability)
	}
	return "No cause stands out. The checks tell which it is; most likely among many:"
}
