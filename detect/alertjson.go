package detect

import (
	"encoding/json"
	"time"
)

// alertJSON is the published form of an alert, in the order of its keys.
type alertJSON struct {
	Home     string       `json:"home"`
	Alert    string       `json:"alert"`
	Kind     Kind         `json:"kind"`
	Severity Severity     `json:"severity"`
	Onset    time.Time    `json:"onset"`
	Raised   time.Time    `json:"raised"`
	Cleared  *time.Time   `json:"cleared"`
	Summary  string       `json:"summary"`
	Causes   []CauseShare `json:"causes"`
	Evidence Evidence     `json:"evidence"`
}

// MarshalJSON writes the published form: times as RFC 3339 in UTC, cleared
// null while the alert is open.
func (a Alert) MarshalJSON() ([]byte, error) {
	j := alertJSON{a.Home, a.ID, a.Kind, a.Severity, a.Onset.UTC(), a.Raised.UTC(), nil, a.Summary, a.Causes, a.Evidence}
	if !a.Open() {
		cleared := a.Cleared.UTC()
		j.Cleared = &cleared
	}
	if j.Causes == nil {
		j.Causes = []CauseShare{}
	}
	if j.Evidence == nil {
		j.Evidence = Evidence{}
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads the published form.
func (a *Alert) UnmarshalJSON(b []byte) error {
	var j alertJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	*a = Alert{ID: j.Alert, Home: j.Home, Kind: j.Kind, Severity: j.Severity, Onset: j.Onset, Raised: j.Raised,
		Summary: j.Summary, Causes: j.Causes, Evidence: j.Evidence}
	if j.Cleared != nil {
		a.Cleared = *j.Cleared
	}
	return nil
}
