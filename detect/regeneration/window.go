package regeneration

import "math"

// span is how many minutes the window holds: more than twice the longest
// programme, so that a cycle that does not end is still seen from its start.
const span = 512

// unknown marks a minute that nobody measured.
const unknown = math.MaxUint16

// The resolution at which the window keeps each channel: fine beside any
// sensor, coarse enough for two bytes.
const (
	flowStep  = 0.001 // L/min, up to 65
	levelStep = 0.05  // mm, up to 3,276
	powerStep = 0.01  // W, up to 655
)

// channel is one signal's last minutes, as a ring.
type channel [span]uint16

// Window is the recent past of one home, minute by minute. Next counts minutes
// since 1970 and is the first one not yet seen.
type Window struct {
	Next                    int64
	Drain, Level, Power, Up channel
}

// put encodes a value; out-of-range values are held at the range's ends.
func put(v, step float64) uint16 {
	if v != v {
		return unknown
	}
	return uint16(math.Round(min(max(v/step, 0), unknown-1)))
}

// at decodes the value of a minute, NaN when unknown or out of the window.
func (w *Window) at(c *channel, minute int64, step float64) float64 {
	if minute >= w.Next || minute < w.Next-span || minute < 0 {
		return math.NaN()
	}
	u := c[minute%span]
	if u == unknown {
		return math.NaN()
	}
	return float64(u) * step
}

// skipTo makes minute the next one; those passed over are unknown.
func (w *Window) skipTo(minute int64) {
	if minute-w.Next > span || w.Next == 0 {
		w.Next = minute - span
	}
	for ; w.Next < minute; w.Next++ {
		w.set(unknown, unknown, unknown, unknown)
	}
}

// push appends one minute.
func (w *Window) push(drain, level, power, up float64) {
	w.set(put(drain, flowStep), put(level, levelStep), put(power, powerStep), put(up, flowStep))
	w.Next++
}

func (w *Window) set(drain, level, power, up uint16) {
	i := ((w.Next % span) + span) % span
	w.Drain[i], w.Level[i], w.Power[i], w.Up[i] = drain, level, power, up
}

// mean is the average of the known minutes in [from, to) and their number.
func (w *Window) mean(c *channel, from, to int64, step float64) (mean float64, n int) {
	sum := uint64(0)
	from = max(from, w.Next-span, 0)
	to = min(to, w.Next)
	for m, i := from, int(from%span); m < to; m++ {
		if u := c[i]; u != unknown {
			sum += uint64(u)
			n++
		}
		if i++; i == span {
			i = 0
		}
	}
	if n == 0 {
		return math.NaN(), 0
	}
	return float64(sum) * step / float64(n), n
}

// least is the smallest known value in [from, to), NaN when there is none.
func (w *Window) least(c *channel, from, to int64, step float64) float64 {
	least := math.NaN()
	for m := from; m < to; m++ {
		if v := w.at(c, m, step); v == v && !(v >= least) {
			least = v
		}
	}
	return least
}
