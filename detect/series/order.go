package series

import (
	"time"

	"brinebell/detect"
)

// lateness is how far readings of one home may overtake each other. It is added
// to the delay of everything, so it is just longer than sensors that report
// together need.
const lateness = 60 * time.Second

const (
	// lead is how far one signal's times may pull ahead of the home's others: a
	// clock that is wrong by hours must not make everybody else late.
	lead = 15 * time.Minute
	// present is how many readings ago a signal must have spoken to count among
	// the others.
	present = 64
	// handedOut is how many samples are handed out before their room is used again.
	handedOut = 32
)

// Sample is a reading without its home; At is Unix ms.
type Sample struct {
	At     int64
	Value  float64
	Signal detect.Signal
}

// Order puts the readings of one home into the order of their measurement.
// Readings of the same instant come out in the order of their signals, so that
// the order of arrival leaves no trace. Fields are exported for snapshots.
type Order struct {
	Waiting []Sample // in order, from Head on
	Head    int
	Newest  int64
	Passed  int64                     // everything up to here has been handed out
	Last    [detect.NumSignals]int64  // newest time of each signal
	Spoke   [detect.NumSignals]uint32 // Count when it last spoke
	Count   uint32                    // readings placed
}

// Placement says what became of a reading offered to Order.
type Placement uint8

// The placements.
const (
	Placed    Placement = iota
	Duplicate           // the same signal and instant is already waiting
	Late                // its time has already been judged
)

// Add offers a reading.
func (o *Order) Add(s Sample) Placement {
	if o.Newest != 0 && s.At <= o.Passed {
		return Late
	}
	i := len(o.Waiting)
	for i > o.Head && before(s, o.Waiting[i-1]) {
		i--
	}
	if i > o.Head && o.Waiting[i-1].At == s.At && o.Waiting[i-1].Signal == s.Signal {
		// Two values for one instant: the larger stays, whichever came first.
		o.Waiting[i-1].Value = max(o.Waiting[i-1].Value, s.Value)
		return Duplicate
	}
	o.room()
	o.Waiting = append(o.Waiting, s)
	if i < len(o.Waiting)-1 {
		copy(o.Waiting[i+1:], o.Waiting[i:])
		o.Waiting[i] = s
	}
	o.Count++
	o.Spoke[s.Signal] = o.Count
	if s.At > o.Last[s.Signal] {
		o.Last[s.Signal] = s.At
	}
	o.Newest = max(o.Newest, s.At)
	if o.Newest-lateness.Milliseconds() > o.Passed {
		reached := o.Newest
		if common := o.common(); reached-common > lead.Milliseconds() {
			reached = common
		}
		o.Passed = max(o.Passed, reached-lateness.Milliseconds())
	}
	return Placed
}

// room grows Waiting by little: what a home needs it needs for ever, and append
// would double it.
func (o *Order) room() {
	if len(o.Waiting) < cap(o.Waiting) {
		return
	}
	grown := make([]Sample, len(o.Waiting), cap(o.Waiting)+handedOut/2)
	copy(grown, o.Waiting)
	o.Waiting = grown
}

// common is the time that at least half of the signals that speak now have come
// to: the lower median of their newest.
func (o *Order) common() int64 {
	var times [detect.NumSignals]int64
	n := 0
	for s, last := range o.Last {
		if o.Spoke[s] == 0 || o.Count-o.Spoke[s] >= present {
			continue
		}
		i := n
		for ; i > 0 && times[i-1] > last; i-- {
			times[i] = times[i-1]
		}
		times[i] = last
		n++
	}
	return times[(n-1)/2]
}

func before(a, b Sample) bool {
	return a.At < b.At || a.At == b.At && a.Signal < b.Signal
}

// Next hands out the oldest reading that no other can still overtake.
func (o *Order) Next() (Sample, bool) {
	if o.Head == len(o.Waiting) || o.Waiting[o.Head].At > o.Passed {
		return Sample{}, false
	}
	s := o.Waiting[o.Head]
	o.Head++
	if o.Head >= handedOut || o.Head == len(o.Waiting) {
		o.Waiting = o.Waiting[:copy(o.Waiting, o.Waiting[o.Head:])]
		o.Head = 0
	}
	return s, true
}

// Flush lets out all that waits, at the end of a recording.
func (o *Order) Flush() { o.Passed = o.Newest }
