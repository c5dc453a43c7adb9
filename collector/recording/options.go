package recording

import "time"

// The defaults of Options.
const (
	// DefaultKeepBad is enough bad lines to see what is wrong with a file, and
	// few enough that a file of nothing else costs no memory.
	DefaultKeepBad = 100
	// DefaultMaxLine holds a SenML pack of some ten thousand records.
	DefaultMaxLine = 1 << 20
)

// Options say how to read a recording. The zero value is usable.
type Options struct {
	// Strict ends the reading at the first bad line, which Next then returns.
	Strict bool
	// KeepBad is how many bad lines are kept for Bad; DefaultKeepBad when 0.
	KeepBad int
	// MaxLine is the longest line in bytes; a longer one is bad.
	// DefaultMaxLine when 0.
	MaxLine int
	// Now stands for the present in SenML packs with relative times. When it is
	// zero such records are bad, since a recording should not depend on when it
	// is read.
	Now time.Time
}

func (o Options) withDefaults() Options {
	if o.KeepBad == 0 {
		o.KeepBad = DefaultKeepBad
	}
	if o.MaxLine == 0 {
		o.MaxLine = DefaultMaxLine
	}
	return o
}
