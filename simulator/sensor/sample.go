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

// Order sorts samples by arrival, then signal, then measurement. Samples come
// out of a home nearly sorted.
func Order(s []Sample) {
	if !slices.IsSortedFunc(s, before) {
		slices.SortStableFunc(s, before)
	}
}

func before(a, b Sample) int {
	switch {
	case a.Arrived != b.Arrived:
		return cmp.Compare(a.Arrived, b.Arrived)
	case a.Signal != b.Signal:
		return int(a.Signal) - int(b.Signal)
	}
	return cmp.Compare(a.Measured, b.Measured)
}

// Truth is what a perfect instrument would show of every signal during a step;
// the flow points hold L/min, the volumes nothing.
type Truth [detect.NumSignals]float64
