package cause

import (
	"encoding/json"
	"fmt"

	"brinebell/detect"
)

// Experience is how often a firm confirmed each cause. The zero value is none.
// It is plain data; as JSON and by encoding/gob the same experience has always the
// same bytes, and causes that a later program does not know any more are kept.
type Experience struct {
	Confirmed map[detect.Cause]int `json:"confirmed"`
}

// plainExperience is Experience without its methods.
type plainExperience Experience

// GobEncode writes the JSON, whose keys are in order: a map's are not.
func (x Experience) GobEncode() ([]byte, error) { return json.Marshal(plainExperience(x)) }

// GobDecode reads what GobEncode wrote.
func (x *Experience) GobDecode(b []byte) error { return x.UnmarshalJSON(b) }

// UnmarshalJSON reads an experience and refuses counts below nothing.
func (x *Experience) UnmarshalJSON(b []byte) error {
	var read plainExperience
	if err := json.Unmarshal(b, &read); err != nil {
		return fmt.Errorf("confirmed causes: %w", err)
	}
	for c, n := range read.Confirmed {
		if n < 0 {
			return fmt.Errorf("confirmed causes: %s %d times", c, n)
		}
	}
	*x = Experience(read)
	return nil
}

// Add counts a confirmed cause.
func (x *Experience) Add(c detect.Cause) {
	if x.Confirmed == nil {
		x.Confirmed = map[detect.Cause]int{}
	}
	x.Confirmed[c]++
}

// Undo takes an Add back; ok is false when there is none to take back.
func (x *Experience) Undo(c detect.Cause) (ok bool) {
	n := x.Confirmed[c]
	switch {
	case n <= 0:
		return false
	case n == 1:
		delete(x.Confirmed, c)
	default:
		x.Confirmed[c] = n - 1
	}
	return true
}

// Strength is how many confirmed causes the table's own rates are worth against
// a firm's.
func (m *Model) Strength() float64 { return m.strength }

// With is the model with its rates moved by experience; m stays as it is. The
// shares of the causes are a Dirichlet distribution whose prior counts are
// Strength times the table's shares; their mean after the counts is used. How
// often anything breaks at all stays as it was: confirmed causes say what it was,
// not how often.
func (m *Model) With(x Experience) *Model {
	moved := *m
	moved.rates = make([]float64, len(m.rates))
	all, counted := 0.0, 0.0
	for c, name := range m.names {
		all += m.rates[c]
		counted += float64(max(0, x.Confirmed[name]))
	}
	for c, name := range m.names {
		count := m.strength*m.rates[c]/all + float64(max(0, x.Confirmed[name]))
		moved.rates[c] = all * count / (m.strength + counted)
	}
	moved.attach()
	return &moved
}

// Rate is how often the cause comes about per home-year.
func (m *Model) Rate(c detect.Cause) float64 {
	for i, name := range m.names {
		if name == c {
			return m.rates[i]
		}
	}
	return 0
}
