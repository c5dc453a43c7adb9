package series

import (
	"math"
	"time"

	"brinebell/detect"
)

// Minute is what the sensors of one home said about one minute of its time: the
// common currency of everything that judges. A flow point holds the mean L/min
// over the minute (so also the litres that passed in it) under InletFlow,
// ServiceFlow or DrainFlow, whether the sensor gave a rate or a total; the
// volume signals themselves are never set. Any other signal holds the mean of
// its readings. What nobody measured is NaN.
type Minute struct {
	Start  time.Time
	Values [detect.NumSignals]float64
}

// NewMinute is a minute of which nothing is known.
func NewMinute(start time.Time) Minute {
	m := Minute{Start: start}
	for i := range m.Values {
		m.Values[i] = math.NaN()
	}
	return m
}

// Get is the signal's value in the minute; ok is false when nobody measured it.
func (m *Minute) Get(s detect.Signal) (v float64, ok bool) {
	v = m.Values[s]
	return v, v == v
}
