package series

import (
	"math"
	"time"
)

// logMinutes is how far back a Log reaches: a day and a night, with room for a
// regeneration that is recognised late.
const logMinutes = 26 * 60

// Log keeps one flow, in L/min, over the last 26 hours. Minutes of which
// nothing is known are NaN. Fields are exported for snapshots.
type Log struct {
	End  int64 // one past the newest minute, in minutes since 1970; 0 when empty
	Flow [logMinutes]Short
}

var unknown = float32(math.NaN())

// Put appends the minute that starts at t; what lies between it and the newest
// one becomes unknown. Minutes before the newest are left alone.
func (l *Log) Put(t time.Time, flow float64) {
	m := t.Unix() / 60
	if l.End == 0 || m-l.End >= logMinutes {
		for i := range l.Flow {
			l.Flow[i] = UnknownShort
		}
		l.End = m
	}
	if m < l.End {
		return
	}
	for ; l.End < m; l.End++ {
		l.Flow[l.End%logMinutes] = UnknownShort
	}
	l.Flow[m%logMinutes] = Shorten(flow)
	l.End = m + 1
}

// Amend takes what a passage says of minutes already in the log: those that
// were unknown and lie wholly in it.
func (l *Log) Amend(p Passage) {
	if !p.Known {
		return
	}
	l.fill(p.From, p.DryUntil, 0)
	if p.To > p.DryUntil {
		l.fill(p.DryUntil, p.To, Shorten(p.Litres*60_000/float64(p.To-p.DryUntil)))
	}
}

func (l *Log) fill(from, to int64, flow Short) {
	first, last := max((from+minute-1)/minute, l.End-logMinutes), min(to/minute, l.End)
	for m := first; m < last; m++ {
		if at := &l.Flow[m%logMinutes]; *at == UnknownShort {
			*at = flow
		}
	}
}

// Forget makes the minutes of [from, to) unknown, as when a regeneration turns
// out to have run in them.
func (l *Log) Forget(from, to time.Time) {
	first, last := max(from.Unix()/60, l.End-logMinutes), min((to.Unix()+59)/60, l.End)
	for m := first; m < last; m++ {
		l.Flow[m%logMinutes] = UnknownShort
	}
}

// Span copies the flow of the n minutes from t on into dst, unknown ones as
// NaN, and returns it cut to n.
func (l *Log) Span(t time.Time, n int, dst []float32) []float32 {
	dst = dst[:0]
	for m := t.Unix() / 60; m < t.Unix()/60+int64(n); m++ {
		if m < l.End-logMinutes || m >= l.End || l.End == 0 {
			dst = append(dst, unknown)
		} else {
			dst = append(dst, l.Flow[m%logMinutes].Float())
		}
	}
	return dst
}
