package plant

import (
	"time"

	"brinebell/detect"
)

const daySeconds = 24 * 60 * 60

// control decides when the valve regenerates. It knows what is set and what its
// meter counted, never what the resin holds.
type control struct {
	kind     detect.Control
	hour     int64   // of the day at which it starts, s
	override int     // days; 0: none
	capacity float64 // L between regenerations, as set
	reserve  float64 // share of capacity
	counted  float64 // L since the last
	days     int     // since the last
	error    float64 // s that the clock is ahead of local time
	last     int64   // second of the day at the last look
}

// ironAsHardness is the hardness that installers set for each mg/L of iron, 4
// grains per gallon: common practice.
const ironAsHardness = 4 * detect.MgPerGrainPerGallon

func newControl(home detect.Home) control {
	s := home.Softener
	set := home.Water.Hardness + ironAsHardness*home.Water.Iron
	c := control{kind: s.Control, override: s.DaysOverride, reserve: s.Reserve, last: -1}
	c.hour = int64((s.RegenerationTime-lead(s)+24*time.Hour)/time.Second) % daySeconds
	if set > 0 {
		c.capacity = s.Resin * s.Capacity * mgPerEquivalent / set
	}
	return c
}

// due says whether a regeneration begins now, the clock of the house showing
// the given second of the day. It must be asked at every step.
func (c *control) due(second int64, f *faults) bool {
	now := second + int64(c.error)
	if now < 0 || now >= daySeconds {
		now = mod(now, daySeconds)
	}
	struck := c.last >= 0 && passed(c.last, now, c.hour)
	c.last = now
	capacity := c.capacity * f.capacitySet
	if c.kind == detect.MeteredImmediate && capacity > 0 && c.counted >= capacity {
		return true
	}
	if !struck {
		return false
	}
	c.days++
	if c.override > 0 && c.days >= c.override {
		return true
	}
	return c.kind == detect.MeteredDelayed && capacity > 0 && c.counted >= capacity*(1-c.reserve*f.reserveSet)
}

// put sets the clock to be wrong by so many seconds. Hours that the hands pass
// while they are turned do not strike.
func (c *control) put(wrong float64) {
	if wrong != c.error {
		c.error, c.last = wrong, -1
	}
}

// began notes that a regeneration has begun.
func (c *control) began() { c.counted, c.days = 0, 0 }

// passed says whether the hour struck between two looks at the clock, over
// midnight or not; a clock put back by less than half a day strikes nothing.
func passed(from, to, hour int64) bool {
	if from <= to && to-from < daySeconds/2 {
		return from < hour && hour <= to
	}
	forward := mod(to-from, daySeconds)
	return forward < daySeconds/2 && mod(hour-from-1, daySeconds) < forward
}

func mod(a, n int64) int64 {
	if a %= n; a < 0 {
		return a + n
	}
	return a
}

// quarter is the span in s within which a local day neither ends nor changes
// its zone.
const quarter = 900

// wall turns times into seconds of the local day, looking up the zone only once
// a quarter of an hour.
type wall struct{ from, second0 int64 }

func (w *wall) second(t time.Time) int64 {
	u := t.Unix()
	if since := u - w.from; since >= 0 && since < quarter && w.from != 0 {
		return w.second0 + since
	}
	_, off := t.Zone()
	w.from = u - mod(u, quarter)
	w.second0 = mod(w.from+int64(off), daySeconds)
	return w.second0 + u - w.from
}
