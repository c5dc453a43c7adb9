package series

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"
)

// Limits of what can be said of a device's clock from when its readings arrive.
const (
	// clockSlots is how many hours with readings are remembered, clockNeeded how
	// many must agree.
	clockSlots, clockNeeded = 12, 4
	// clockAlike is how near the hours' least delays must lie to each other,
	// seconds: a batch sent each minute and a slow link are well within it, an
	// upload of what an outage kept is not.
	clockAlike = 120.0
	// ClockSound is the error up to which a clock counts as right: what radio,
	// batches and a clock that nobody sets drift apart by. Events of one home are
	// joined by the minute and no finer.
	ClockSound = 5 * time.Minute
	// clockMost is an error beyond which it is not taken for a clock that runs
	// wrong: a device that has lost its date, or an archive that is being read in.
	clockMost = 40 * 24 * time.Hour
)

// Clock estimates how wrong a device's clock is from when its readings arrive.
//
// A reading arrives after it was measured by the link's delay, which is never
// less than nothing and small for the newest of a batch, whatever outage the
// batch waited for. So the least of arrival less measurement over an hour of
// arrivals is the clock's error, turned round, and a few seconds; the median of
// the hours' leasts is not moved by an hour in which only a backlog came. This is
// the filter by which network time picks its samples (the sample of least delay is
// the best: RFC 5905, section 10).
//
// The zero value is ready. It keeps no clock of its own and allocates nothing;
// fields are exported for snapshots.
type Clock struct {
	Hours [clockSlots]ClockHour // of arrivals, at Next-1 backwards
	Next  int
}

// ClockHour is the least delay seen among the arrivals of one hour.
type ClockHour struct {
	Hour  int64   // Unix hour; 0: none
	Least float64 // s, arrival less measurement
}

// Hear takes in when a reading was measured, by the device's clock, and when it
// arrived, by a clock that is right. What was sent again makes no difference.
func (c *Clock) Hear(measured, arrived time.Time) {
	delay := arrived.Sub(measured)
	if delay.Abs() > clockMost {
		return
	}
	hour := arrived.Unix() / 3600
	if newest := c.at(0); newest.Hour != 0 && newest.Hour >= hour {
		if newest.Hour == hour {
			newest.Least = math.Min(newest.Least, delay.Seconds())
		}
		return
	}
	c.Hours[c.Next] = ClockHour{hour, delay.Seconds()}
	c.Next = (c.Next + 1) % clockSlots
}

// at is the hour so many before the newest one.
func (c *Clock) at(back int) *ClockHour {
	return &c.Hours[(c.Next-1-back+2*clockSlots)%clockSlots]
}

// Error is how far the device's clock is ahead of the right time, negative when
// it is behind, and since when its readings show that; ok is false while too few
// hours agree. A clock that was set anew is followed after clockNeeded hours.
func (c *Clock) Error() (ahead time.Duration, since time.Time, ok bool) {
	var newest [clockNeeded]float64
	for i := range newest {
		h := c.at(i)
		if h.Hour == 0 {
			return 0, time.Time{}, false
		}
		newest[i] = h.Least
	}
	slices.Sort(newest[:])
	median := stat.Quantile(0.5, stat.LinInterp, newest[:], nil)
	agree, from := 0, int64(0)
	for i := range clockSlots {
		h := c.at(i)
		if h.Hour == 0 || math.Abs(h.Least-median) > clockAlike {
			if i < clockNeeded { // one of the newest was a backlog's
				continue
			}
			break
		}
		agree, from = agree+1, h.Hour
	}
	if agree < clockNeeded-1 {
		return 0, time.Time{}, false
	}
	return -time.Duration(median * float64(time.Second)), time.Unix(from*3600, 0).UTC(), true
}

// Wrong says whether the clock is known to be off by more than ClockSound, and by
// how much: what a measured time must be put back by.
func (c *Clock) Wrong() (ahead time.Duration, since time.Time, wrong bool) {
	ahead, since, ok := c.Error()
	if !ok || ahead.Abs() <= ClockSound {
		return 0, time.Time{}, false
	}
	return ahead.Round(time.Second), since, true
}

// Right is a measured time put right, as far as the clock's error is known. A
// sound clock's times stay as they are.
func (c *Clock) Right(measured time.Time) time.Time {
	ahead, _, _ := c.Wrong()
	return measured.Add(-ahead)
}
