package score

import (
	"time"

	"brinebell/detect"
)

// Outcome is what became of an episode.
type Outcome string

// The outcomes.
const (
	Found      Outcome = "found"
	Late       Outcome = "late"        // the right alert came too late: counts as missed
	Missed     Outcome = "missed"      // no alert of the right kind
	NotVisible Outcome = "not_visible" // the home's sensors cannot show it
	Masked     Outcome = "masked"      // its alert already stood for another fault
	Undecided  Outcome = "undecided"   // the recording ended too early to tell
)

// Counts says whether the episode counts as found or missed.
func (o Outcome) Counts() bool { return o == Found || o == Late || o == Missed }

// Judged is an episode with what became of it.
type Judged struct {
	Episode
	Outcome Outcome     `json:"outcome"`
	Alert   string      `json:"alert,omitempty"`       // that found it, first or too late
	Kind    detect.Kind `json:"kind,omitempty"`        // of that alert
	Delay   float64     `json:"delay_hours,omitempty"` // from onset to that alert
	Rank    int         `json:"cause_rank,omitempty"`  // of the fault among that alert's causes; 0: not among them
	Repeats int         `json:"repeats,omitempty"`     // further alerts of a kind that had already found it
	Why     string      `json:"why,omitempty"`         // it is not visible
}

// Verdict is what an alert was.
type Verdict string

// The verdicts.
const (
	Right       Verdict = "right"       // it finds an episode, or repeats that
	Consequence Verdict = "consequence" // of an episode
	False       Verdict = "false"
)

// Heard is an alert with what it was.
type Heard struct {
	Home     string          `json:"home"`
	Alert    string          `json:"alert"`
	Kind     detect.Kind     `json:"kind"`
	Severity detect.Severity `json:"severity"`
	Raised   time.Time       `json:"raised"`
	Verdict  Verdict         `json:"verdict"`
}
