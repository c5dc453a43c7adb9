package intake

import (
	"fmt"
	"time"

	"brinebell/detect"
)

// beginning is before any present in which this program runs. A board without a
// battery believes in another one until it has asked the network.
var beginning = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

// present knows how late it must be at least. By a clock that is behind, sound
// readings would be of the future and set aside; so nothing is taken until the
// clock is right.
type present struct {
	least time.Time
}

// note notes readings that were sound: none of them is more than MaxAhead ahead
// of the present.
func (p *present) note(readings []detect.Reading) {
	for _, r := range readings {
		if least := r.Time.Add(-MaxAhead); least.After(p.least) {
			p.least = least
		}
	}
}

// check says what is wrong with a clock, or nil.
func (p *present) check(now time.Time) error {
	if now.Before(p.least) || now.Before(beginning) {
		return fmt.Errorf("the machine's clock says %s, which is long before what has been stored: set it", now.UTC().Format(time.RFC3339))
	}
	return nil
}
