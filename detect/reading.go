package detect

import (
	"errors"
	"math"
	"time"
)

// Reading is one value of one signal at one home, in the signal's canonical
// unit, at the time of its measurement.
type Reading struct {
	Home   string
	Signal Signal
	Time   time.Time
	Value  float64
}

// The reasons a well-formed reading cannot be believed.
var (
	ErrNotFinite = errors.New("value is not a finite number")
	ErrTimeRange = errors.New("time is outside 2000 to 2100")
)

// The span in which a reading's time is believed to be a time at all. A sensor
// that has lost its clock usually reports 1970 or the end of its counter.
var (
	minTime = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	maxTime = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
)

// Check says why r can never be a measurement, or nil.
func (r Reading) Check() error {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return ErrNotFinite
	}
	if r.Time.Before(minTime) || !r.Time.Before(maxTime) {
		return ErrTimeRange
	}
	return nil
}
