package detect

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"
)

// CauseShare is one ranked cause with the probability it is given.
type CauseShare struct {
	Cause       Cause   `json:"cause"`
	Probability float64 `json:"probability"`
}

// Evidence is the named numbers and words that led to a finding. Each key ends
// in its unit where it has one, as in "size_l_per_min".
type Evidence map[string]any

// Alert is a finding that somebody is told about, in its latest state.
type Alert struct {
	ID       string
	Home     string
	Kind     Kind
	Severity Severity
	Onset    time.Time // when it began, as far as the readings show
	Raised   time.Time // the time of measurement at which it was certain enough
	Cleared  time.Time // zero while it is open
	Summary  string    // for the household, in plain words and its own units
	Causes   []CauseShare
	Evidence Evidence
}

// Open says whether the alert still stands.
func (a Alert) Open() bool { return a.Cleared.IsZero() }

// AlertID derives an alert's identity from what makes it one: the home, the
// kind and the onset to the second. A restart or a second run over the same
// readings therefore never makes a second alert of one fault.
func AlertID(home string, kind Kind, onset time.Time) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s|%s|%d", home, kind, onset.Unix()))
	return hex.EncodeToString(sum[:8])
}
