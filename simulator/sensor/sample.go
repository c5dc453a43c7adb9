package sensor

import (
	"cmp"
	"slices"

	"brinebell/detect"
)

// Sample is one value of one signal as it comes out of a device. Times are
// Unix milliseconds: Arrived by the true clock, Measured by the device's.
type Sample struct {
	Arrived, Measured int64
	Value             float64
	Signal            detect.Signal
}

// Order sorts samples by arrival; those that arrive together stay as they are.
// Samples come out of a home sorted, but for what was late.
func Order(s []Sample) {
	if !slices.IsSortedFunc(s, before) {
		slices.SortStableFunc(s, before)
	}
}

func before(a, b Sample) int { return cmp.Compare(a.Arrived, b.Arrived) }

// Truth is what a perfect instrument would show of every signal during a step;
// the flow points hold L/min, the volumes nothing.
type Truth [detect.NumSignals]float64
