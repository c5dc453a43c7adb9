package series

import (
	"math"
	"time"

	"brinebell/detect"
)

const (
	// window is how many minutes are open at once. It must exceed the longest
	// span that a passage is spread over.
	window = 20
	minute = 60_000 // ms
	// jump is the silence after which the minutes of the gap are not gone
	// through one by one.
	jump = 24 * 60
	// enough is the share of a minute that must have been measured; what little
	// is missing then counts as dry, so that no water is made up.
	enough = 0.9
)

// cell is what is known so far of one signal in one open minute: for a flow
// point, litres and the seconds they were measured over; for anything else, the
// sum of the readings and their number.
type cell struct{ Sum, Weight float32 }

// cells is how many signals have one: totals are kept under their flow.
const cells = int(detect.NumSignals) - pipes

// pipes is how many have a meter: inlet, service, drain.
const pipes = 3

// place is where a signal's cell lies.
var place = func() (at [detect.NumSignals]uint8) {
	n := uint8(0)
	for s := range detect.NumSignals {
		if !s.IsTotal() {
			at[s] = n
			n++
		}
	}
	return at
}()

// Assembler makes minutes of one home's readings, which it takes in the order
// of their time. A minute closes once the readings that can still speak of it
// have passed. Fields are exported for snapshots.
type Assembler struct {
	Meters [pipes]Meter
	First  int64               // the first open minute, in minutes since 1970
	Until  int64               // time of the newest reading taken, Unix ms
	Cells  [window][cells]cell // by place
	Seen   uint32              // bit set of the signals that ever spoke
	Began  bool
}

// meterIndex is where a flow point's meter is kept.
func meterIndex(point detect.Signal) int { return int(point-detect.InletFlow) / 2 }

// Meter is the meter of a flow point.
func (a *Assembler) Meter(point detect.Signal) *Meter { return &a.Meters[meterIndex(point)] }

// Has says whether the signal ever spoke.
func (a *Assembler) Has(s detect.Signal) bool { return a.Seen&(1<<s) != 0 }

// HasFlow says whether a flow point ever spoke, by rate or by total.
func (a *Assembler) HasFlow(point detect.Signal) bool { return a.Has(point) || a.Has(point+1) }

// Take takes a reading, whose time must not be before that of the last. Close
// all minutes that Next offers first. The passage, when there is one, is of the
// given flow point and may reach back before the open minutes.
func (a *Assembler) Take(s detect.Signal, at int64, value float64) (p Passage, ok bool) {
	if !a.Began {
		a.Began, a.First = true, at/minute
	}
	if at/minute-a.First >= window { // a silence: what was open has been offered
		a.skipTo(at/minute - window + 1)
	}
	a.Until = at
	a.Seen |= 1 << s
	point, isFlow := s.FlowPoint()
	if !isFlow {
		c := a.cell(at/minute, s)
		c.Sum += float32(value)
		c.Weight++
		return Passage{}, false
	}
	m := &a.Meters[meterIndex(point)]
	if s.IsTotal() {
		p, ok = m.VolumeTotal(at, value)
	} else {
		p, ok = m.Rate(at, value)
	}
	if ok && p.Known {
		a.spread(point, p.From, p.DryUntil, 0)
		a.spread(point, p.DryUntil, p.To, p.Litres)
	}
	return p, ok
}

func (a *Assembler) cell(min int64, s detect.Signal) *cell { return &a.Cells[min%window][place[s]] }

// spread puts litres evenly over (from, to], as far as its minutes are open.
func (a *Assembler) spread(point detect.Signal, from, to int64, litres float64) {
	if to <= from {
		return
	}
	rate := litres / float64(to-from)
	if first := a.First * minute; from < first {
		from = first
	}
	for from < to {
		m := from / minute
		end := min(to, (m+1)*minute)
		c := a.cell(m, point)
		c.Sum += float32(rate * float64(end-from))
		c.Weight += float32(end-from) / 1000
		from = end
	}
}

// Next closes the oldest minute when it is over at upTo (Unix ms), the time of
// the reading to be taken next, and no meter is still expected to speak of it.
func (a *Assembler) Next(upTo int64, m *Minute) bool {
	if !a.Began || !a.over((a.First+1)*minute, upTo) {
		return false
	}
	if gap := upTo/minute - a.First; gap > jump && a.First > a.Until/minute {
		a.skipTo(upTo/minute - window)
	}
	a.close(m)
	return true
}

// over says whether everything before end is known that will be.
func (a *Assembler) over(end, upTo int64) bool {
	if end > upTo {
		return false
	}
	for i := range a.Meters {
		if m := &a.Meters[i]; m.At != 0 && m.At < end && upTo-m.At <= m.patience() {
			return false
		}
	}
	return true
}

// Finish closes the oldest minute at the end of a recording, when nothing more
// will come.
func (a *Assembler) Finish(m *Minute) bool {
	if !a.Began || (a.First+1)*minute > a.Until {
		return false
	}
	a.close(m)
	return true
}

func (a *Assembler) close(m *Minute) {
	m.Start = time.UnixMilli(a.First * minute).UTC()
	row := &a.Cells[a.First%window]
	for s := range m.Values {
		m.Values[s] = math.NaN()
		if !detect.Signal(s).IsTotal() {
			m.Values[s] = row[place[s]].value(detect.Signal(s))
		}
	}
	*row = [cells]cell{}
	a.First++
}

func (c cell) value(s detect.Signal) float64 {
	if c.Weight == 0 {
		return math.NaN()
	}
	if _, isFlow := s.FlowPoint(); !isFlow {
		return float64(c.Sum / c.Weight)
	}
	if c.Weight < enough*60 {
		return math.NaN()
	}
	return float64(c.Sum)
}

// skipTo gives up the open minutes before min.
func (a *Assembler) skipTo(min int64) {
	if min-a.First >= window {
		a.Cells = [window][cells]cell{}
		a.First = min
	}
	for a.First < min {
		a.Cells[a.First%window] = [cells]cell{}
		a.First++
	}
}
