package books

import (
	"encoding/json"
	"math"
	"strconv"
)

// Number is a quantity that may be unknown: NaN then, null in JSON.
type Number float64

// Unknown is the Number nobody measured.
func Unknown() Number { return Number(math.NaN()) }

// Known says whether anybody measured n.
func (n Number) Known() bool { return n == n }

// digits is how many are written: more than any meter has.
const digits = 7

// MarshalJSON writes null for what is unknown or endless, and else as many digits
// as a meter could mean.
func (n Number) MarshalJSON() ([]byte, error) {
	if v := float64(n); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return strconv.AppendFloat(nil, v, 'g', digits, 64), nil
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
