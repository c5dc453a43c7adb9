package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// lagStep and lagSteps are the width of a bin of the lags, minutes, and how many
	// lie on either side of zero: twelve hours.
	lagStep, lagSteps = 15, 48
	// lagUses is how many uses of water must agree on a lag between two meters,
	// lagCycles how many regenerations between drain and brine level.
	lagUses, lagCycles = 40, 2
	// soundLag is how long after the drain's first water brine may be drawn, minutes.
	soundLag = 180
	// motorLag is how far the valve's motor may run from the drain's first water:
	// where brine is made ahead, it moves to the refill hours before.
	motorLag = 270
	// lagFades is after how many events a pair's counts are halved.
	lagFades = 200
	// clockBack is for how long the clocks must agree again for it to end.
	clockBack = 5 * 24 * time.Hour
	// pausesEnd is how many dry minutes end a stream down the drain: more than a slow
	// rinse pauses between two pulses.
	pausesEnd = 30
	// fellBy is what brine must fall below its level an hour ago to be drawn, mm.
	fellBy = 25.0
)

// lags is how far two kinds of event lie apart in time, as a histogram of the
// differences second - first. It is a cross-correlation of two point processes.
type lags struct {
	Ring  [2][12]int32 // minutes of the newest events, since 1970
	Next  [2]uint8
	Count [2*lagSteps + 1]uint8
	N     int       // events
	Sound time.Time // when a regeneration last fitted
}

// event takes an event of side 0 or 1 and counts its differences from the other
// side's events.
func (l *lags) event(side int, at int32) {
	for _, other := range l.Ring[1-side] {
		diff := int(at - other)
		if side == 0 {
			diff = -diff
		}
		bin := int(math.Round(float64(diff)/lagStep)) + lagSteps
		if other != 0 && bin >= 0 && bin < len(l.Count) && l.Count[bin] < 255 {
			l.Count[bin]++
		}
	}
	l.Ring[side][l.Next[side]] = at
	l.Next[side] = (l.Next[side] + 1) % uint8(len(l.Ring[side]))
	if l.N++; l.N >= lagFades {
		l.N /= 2
		for i := range l.Count {
			l.Count[i] /= 2
		}
	}
}

// peak is the difference that most events agree on, minutes, with how many.
// The bins beside it count with it, for a bin's edge may cut through.
func (l *lags) peak() (minutes, count int) {
	for i := range l.Count {
		sum := int(l.Count[i])
		if i > 0 {
			sum += int(l.Count[i-1])
		}
		if i+1 < len(l.Count) {
			sum += int(l.Count[i+1])
		}
		if sum > count {
			minutes, count = (i-lagSteps)*lagStep, sum
		}
	}
	return minutes, count
}

// around is how many events differ by from to to minutes.
func (l *lags) around(from, to int) (sum int) {
	for i, c := range l.Count {
		if m := (i - lagSteps) * lagStep; m >= from && m <= to {
			sum += int(c)
		}
	}
	return sum
}

// SensorClockWatch finds a device whose clock runs ahead of or behind the
// other devices of its home.
//
// Needs: two devices that see the same events: two meters (uses of water), or a
// drain meter and a brine level or the valve's power (regenerations).
// Statistic: a histogram of the time differences of such events over twelve
// hours. Sound clocks make a peak at zero between meters, and brine that falls within two
// hours of the drain's flow; a wrong one moves the peak. Forty uses, or two
// regenerations none of which fits sound clocks, convict.
// False alarms: people are irregular, so no other difference gathers most uses; a valve
// that draws brine hours after its backwash does not exist.
// Smallest fault visible: 40 min between meters, an hour and a half behind or three ahead between drain and
// level. Not visible: clocks of one device's own signals, a home whose devices are
// all wrong alike, and one that is so far behind that its readings come too late to
// be judged, which sensor_silent shows. Which of the two devices is wrong is not
// said.
// Closes when the peak has been back for clockBack, so that water that comes at even
// intervals, as through a leaking flapper, is one finding at most.
// Source: cross-correlation, common practice.
type SensorClockWatch struct {
	Meters         lags
	Cycles, Motors lags     // drain against brine level, and against the valve's motor
	Idle           float64  // W, least of the valve's power
	Resting        int16    // minutes since its motor ran
	Dry            [2]int16 // dry minutes at inlet and service
	Drain          int16    // dry minutes of the drain
	Wet            int16    // minutes of its present stream
	Began          int32    // minute in which a stream began that is not over; 0: none
	Level          [4]float64
	LevelN         int16 // minutes since the ring's newest entry
	Fell           bool
	Standing       bool
	Back           time.Time // since when the peak has been back
	First          time.Time
	Onset          time.Time
}

// Step looks for events.
func (d *SensorClockWatch) Step(v *View) *Verdict {
	now := int32(v.Minute.Start.Unix() / 60)
	heard := d.meter(v, 0, detect.InletFlow, now)
	heard = d.meter(v, 1, detect.ServiceFlow, now) || heard
	heard = d.drain(v, now) || heard
	heard = d.level(v, now) || heard
	heard = d.motor(v, now) || heard
	if !heard {
		return nil
	}
	if d.First.IsZero() {
		d.First = v.Minute.Start
	}
	lag, with := d.lag()
	switch {
	case lag != 0 && !d.Standing:
		d.Standing, d.Onset = true, d.First
		if sound := d.pair(with).Sound; !sound.IsZero() {
			d.Onset = sound
		}
		return d.verdict(v, lag, with)
	case lag == 0 && d.Standing:
		if d.Back.IsZero() {
			d.Back = v.Minute.Start
		}
		if v.Minute.Start.Sub(d.Back) >= clockBack {
			*d = SensorClockWatch{}
			return &Verdict{Kind: detect.SensorClock}
		}
	case lag != 0:
		d.Back = time.Time{}
	}
	return nil
}

// meter notes the start of a use of water at a meter.
func (d *SensorClockWatch) meter(v *View, side int, point detect.Signal, now int32) bool {
	flow, ok := v.Minute.Get(point)
	if !ok {
		return false
	}
	if flow < 2 {
		d.Dry[side] = min(d.Dry[side]+1, 1000)
		return false
	}
	began := d.Dry[side] >= 20
	d.Dry[side] = 0
	if began {
		d.Meters.event(side, now)
	}
	return began
}

// drain notes the start of a regeneration's drain water.
func (d *SensorClockWatch) drain(v *View, now int32) bool {
	flow, ok := v.Minute.Get(detect.DrainFlow)
	if !ok {
		return false
	}
	if flow < 1 {
		d.Drain, d.Wet = min(d.Drain+1, 10000), 0
		return d.ended(v, now)
	}
	if d.Wet++; d.Wet < 4 || d.Drain < 240 {
		if d.Wet >= 4 {
			d.Drain = 0
		}
		return false
	}
	d.Drain, d.Began = 0, now
	return false
}

// ended notes the start of a stream once it is over, if it was no longer than a
// cycle: a drain that leaks for hours tells no time.
func (d *SensorClockWatch) ended(v *View, now int32) bool {
	if d.Began == 0 || d.Drain < pausesEnd {
		return false
	}
	began := d.Began
	d.Began = 0
	if length := float64(now - began - pausesEnd); length > overrun*v.Home.Softener.ProgrammeLength().Minutes()+pausesEnd {
		return false
	}
	d.Cycles.event(0, began)
	d.Motors.event(0, began)
	d.settle(v.Minute.Start)
	return true
}

// level notes that brine is being drawn.
func (d *SensorClockWatch) level(v *View, now int32) bool {
	mm, ok := v.Minute.Get(detect.BrineLevel)
	if !ok || mm < 0 {
		return false
	}
	fallen := d.Level[0] > 0 && mm < d.Level[0]-fellBy && d.Level[0] < 3000
	if d.LevelN++; d.LevelN >= 20 {
		copy(d.Level[:], d.Level[1:])
		d.Level[len(d.Level)-1], d.LevelN = mm, 0
	}
	event := fallen && !d.Fell
	d.Fell = fallen
	if event {
		d.Cycles.event(1, now)
		d.settle(v.Minute.Start)
	}
	return event
}

// motor notes the first run of the valve's motor in hours.
func (d *SensorClockWatch) motor(v *View, now int32) bool {
	w, ok := v.Minute.Get(detect.ValvePower)
	if !ok || w < 0.5 || w > 100 {
		return false
	}
	if d.Idle == 0 || w < d.Idle {
		d.Idle = w
	}
	if d.Resting = min(d.Resting+1, 10000); w < 1.3*d.Idle+0.7 {
		return false
	}
	began := d.Resting > 240
	d.Resting = 0
	if began {
		d.Motors.event(1, now)
		d.settle(v.Minute.Start)
	}
	return began
}

// settle forgets the lags gathered so far when a regeneration has just fitted
// sound clocks, so that what is left speaks of the time since the last that did.
func (d *SensorClockWatch) settle(at time.Time) {
	if d.Cycles.around(-2*lagStep, soundLag) > 0 {
		d.Cycles.Count, d.Cycles.Sound = [2*lagSteps + 1]uint8{}, at
	}
	if d.Motors.around(-motorLag, motorLag) > 0 {
		d.Motors.Count, d.Motors.Sound = [2*lagSteps + 1]uint8{}, at
	}
}

// lag is the difference of two clocks in minutes and what showed it; 0 when
// they agree or nothing can be said.
func (d *SensorClockWatch) lag() (minutes int, with string) {
	if m, n := d.Meters.peak(); n >= lagUses && n > d.Meters.N/4 && 3*n > 4*d.Meters.around(-2*lagStep, 2*lagStep) && (m > 2*lagStep || m < -2*lagStep) {
		return m, "service"
	}
	if m, n := d.Cycles.peak(); n >= lagCycles && (m < -3*lagStep || m > soundLag) {
		return m, "level"
	}
	if m, n := d.Motors.peak(); n >= lagCycles && (m < -motorLag || m > motorLag) {
		return m, "power"
	}
	return 0, ""
}

// pair is the histogram that a witness is in.
func (d *SensorClockWatch) pair(with string) *lags {
	switch with {
	case "level":
		return &d.Cycles
	case "power":
		return &d.Motors
	}
	return &d.Meters
}

func (d *SensorClockWatch) verdict(v *View, lag int, with string) *Verdict {
	first := map[string]string{"service": "inlet", "level": "drain", "power": "drain"}[with]
	e := detect.Evidence{"offset_min": lag, "between": first + "," + with, "step_min": lagStep}
	way := "behind"
	if lag > 0 {
		way = "ahead of"
	}
	return &Verdict{Kind: detect.SensorClock, Standing: true, Severity: detect.Plan, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The clocks of two sensors differ: the one of %s runs about %s %s the one of %s. Set the time of both anew.",
			with, minutesText(time.Duration(max(lag, -lag))*time.Minute), way, first)}
}
