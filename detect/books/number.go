package books

import (
	"encoding/json"
	"math"
)

// Number is a quantity that may be unknown: NaN then, null in JSON.
type Number float64

// Unknown is the Number nobody measured.
func Unknown() Number { return Number(math.NaN()) }

// Known says whether anybody measured n.
func (n Number) Known() bool { return n == n }

// MarshalJSON writes null for what is unknown or endless.
func (n Number) MarshalJSON() ([]byte, error) {
	if v := float64(n); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return json.Marshal(v)
	}
	return []byte("null"), nil
}

// UnmarshalJSON reads null as unknown.
func (n *Number) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*n = Unknown()
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}
