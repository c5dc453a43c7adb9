package finding

import (
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
	"brinebell/detect/series"
)

// View is what a detector sees of its home at the end of a minute. It is valid
// during Step only.
type View struct {
	Home   *detect.Home
	Minute *series.Minute
	Local  time.Time // the minute's start in the home's zone
	Now    time.Time // time of measurement of the newest reading judged

	Sensors *series.Assembler // which signals speak, and the meters' pulses
	Log     *series.Log       // water into the home outside regenerations and less the drain, 26 h
	Leading detect.Signal     // the flow point that Log follows

	Ongoing      regeneration.Ongoing // the regeneration believed to be running
	Regenerating bool                 // whether there is one
	Record       *regeneration.Record // the regeneration that finished in this minute, or nil
	Entry        *books.Entry         // what the books say of Record
	Books        *books.Ledger        // with this minute and Record booked
}

// Verdict is what a detector has to say of its finding now.
type Verdict struct {
	Kind     detect.Kind
	Standing bool // false: the evidence is gone
	Severity detect.Severity
	Onset    time.Time
	Summary  string
	Evidence detect.Evidence
}

// Detector watches one home for one kind of trouble (or two that exclude each
// other). Step is called for every minute in order and returns nil when there
// is nothing new to say. A detector's state is in its exported fields.
type Detector interface {
	Step(v *View) *Verdict
}
