package recording

import "fmt"

// BadLine is a line, or a record in a line, that is no reading.
type BadLine struct {
	File string
	Line int // the first line is 1
	Why  string
}

// Error is the line's place and what is wrong with it, as file:line: why.
func (b *BadLine) Error() string {
	return fmt.Sprintf("%s:%d: %s", b.File, b.Line, b.Why)
}

// BadLines are what a reader has met so far.
type BadLines struct {
	Count int        // how many in all; a SenML line counts once for each bad record
	First []*BadLine // the first few
}

// reject counts a bad line. It returns the error that ends the reading when
// the reader is strict, or nil.
func (r *Reader) reject(why string) error {
	b := &BadLine{File: r.name, Line: r.line, Why: why}
	r.bad.Count++
	if len(r.bad.First) < r.opts.KeepBad {
		r.bad.First = append(r.bad.First, b)
	}
	if r.opts.Strict {
		return b
	}
	return nil
}
