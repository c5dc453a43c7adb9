package finding

import (
	"fmt"
	"math"
	"slices"
	"time"

	"brinebell/detect"
)

const (
	// streamFlow is the least flow of a burst, L/min, and lawnFlow one that no
	// hose passes: a garden hose gives 10 to 20 L/min (common practice).
	streamFlow, lawnFlow = 10.0, 20.0
	// tapFlow is the least flow of a tap that somebody left open, L/min, and
	// tapMinutes how long no one lets it run: a drip line waters for an hour or two.
	tapFlow, tapMinutes = 2.0, 8 * 60
	// dayTap is the same for a tap opened by day, from dayTapFrom o'clock on, in a home
	// that never let it run so long at that part of the day.
	dayTap, dayTapFrom = 150, 7
	// wildFlow is more than a household's sprinkler zone takes, L/min: 25 US gal/min
	// behind a one-inch meter (common practice), and a margin. hugeTimes the home's
	// own peak must be exceeded too.
	wildFlow, hugeTimes = 105.0, 3
	// How long such a flow may last, minutes. A pool is filled by hose from
	// morning until late; sprinklers run one zone after another for two hours
	// or three; one flow that never changes for over an hour is no sprinkler
	// of a home whose profile knows of none.
	poolMinutes, lawnMinutes, gardenMinutes, samenessMinutes, wildMinutes = 18 * 60, 180, 240, 75, 8
	// nightHose is how much of a hose's stream must lie in the night, minutes,
	// and poolNight of one that began by day: whoever fills a pool may go to
	// bed a little late.
	nightHose, poolNight = 90, 210
	// hoseMinutes is how long 10 L/min or more may run by day in a home that never
	// let it run so long before, minutes: a bath takes a quarter of an hour, beds
	// watered by hand half an hour (common practice). It is asked about; a
	// pool is filled once a year.
	hoseMinutes = 90
	// dayFlow is more than a household's taps take together, L/min, and dayMinutes
	// how long it may last between dayFrom and dayTo o'clock, when no sprinkler's
	// clock is set to run (early morning and evening are, for wind and sun: common
	// practice), if it is hugeTimes the home's peak.
	dayFlow, dayMinutes, dayFrom, dayTo = 30.0, 10, 9, 19
	// samePart is how alike flows must be to be one flow, as a share.
	samePart = 0.04
	// streamGrows is by how much a stream may outlast the longest one known here.
	streamGrows = 1.5
	// streamOver is how long the stream must be gone, minutes.
	streamOver = 10
	// maturePeak is how long a home must be known for its peak to count, minutes.
	maturePeak = 14 * 1440
)

// stream follows one unbroken flow above a level.
type stream struct {
	Minutes, Night, Gap int
	ByDay               bool // began between six and eight in the evening
	Litres              float64
	From                time.Time
	Part                int8            // of the day in which it began
	Longest             [dayParts]int16 // minutes of the longest that ended by itself without alarm, by that
}

// dayParts is into how many parts of like length a day is cut: a home waters,
// bathes and fills at hours of its own.
const dayParts = 4

// take adds a minute and says whether the stream has just ended.
func (s *stream) take(v *View, flow, level float64) bool {
	if flow < level {
		if s.Minutes == 0 {
			return false
		}
		s.Gap++
		return s.Gap > 1
	}
	if s.Minutes == 0 {
		s.From, s.ByDay = v.Minute.Start, v.Local.Hour() >= 6 && v.Local.Hour() < 20
		s.Part = int8(v.Local.Hour() * dayParts / 24)
	}
	s.Minutes += 1 + s.Gap
	s.Gap, s.Litres = 0, s.Litres+flow
	if v.Local.Hour() < 5 {
		s.Night++
	}
	return false
}

func (s *stream) end(learn bool) {
	if learn {
		s.Longest[s.Part] = max(s.Longest[s.Part], int16(min(s.Minutes, math.MaxInt16)))
	}
	*s = stream{Longest: s.Longest}
}

// limit is how long the stream may last, from a floor and the home's past at any
// hour.
func (s *stream) limit(floor int) int { return grown(floor, slices.Max(s.Longest[:])) }

// limitNow is the same from its past in this part of the day.
func (s *stream) limitNow(floor int) int { return grown(floor, s.Longest[s.Part]) }

func grown(floor int, longest int16) int {
	return max(floor, int(streamGrows*float64(longest))+10)
}

// BurstWatch finds a large flow that does not end.
//
// Needs: one flow point. Sharper with the drain's meter, and with the profile's
// word on irrigation.
// Statistic: minutes without pause at 10 L/min or more, and at 20 or more,
// against what gardens and pools need and one and a half times the longest
// stream known at this home; where 10 L/min run by day for longer than ever at that
// part of the day, and hoseMinutes, it is asked at once (this_week) and said with
// act_now later. A single unchanging flow of 20 L/min or more
// gets 75 minutes unless the profile knows of irrigation; one beyond 105 L/min and three times the
// home's own peak 8; between nine and seven by day 30 L/min and three times the peak
// get ten minutes. A tap left open, 2 to 10 L/min, gets eight hours, by day
// two and a half where the home never let one run longer at that hour (this_week).
// False alarms: a pool filled for more than eighteen hours or through the night.
// An hour of an unchanging sprinkler that the profile keeps silent about.
// Smallest fault visible: 2 L/min; less is found as a leak at night.
// Learning is gated: a stream that was raised teaches nothing until the second
// one has ended by itself.
// Closes when the flow has been gone for ten minutes.
// Source: common practice, no source.
type BurstWatch struct {
	Tap, Hose, Lawn stream
	Base            float64 // L/min of the unchanging flow
	Same, Off       int     // minutes at it; in a row off it
	Wild            int     // minutes beyond any sprinkler
	WildFrom        time.Time
	Huge            int     // minutes by day beyond all taps and hugeTimes the peak
	Asked           bool    // it stands as a question
	Peak, High      float64 // L/min, highest flow held for two minutes before, and in the present stream
	Last            float64 // L/min, of the minute before
	Known           int     // minutes seen
	Raised          int     // streams raised so far
	Standing        bool
	Over            int
	Onset           time.Time
	Size            float64
}

// Step looks at the home's flow.
func (d *BurstWatch) Step(v *View) *Verdict {
	flow, ok := v.Minute.Get(v.Leading)
	if !ok {
		return nil
	}
	d.Known++
	if flow < tapFlow && d.Tap.Minutes == 0 && d.Hose.Minutes == 0 && !d.Standing {
		d.Last = flow
		return nil
	}
	if drain, ok := v.Minute.Get(detect.DrainFlow); ok && v.beforeDrain(v.Leading) {
		flow = math.Max(0, flow-drain)
	}
	if d.Standing {
		return d.stepStanding(v, flow)
	}
	return d.follow(v, flow)
}

func (d *BurstWatch) follow(v *View, flow float64) *Verdict {
	d.wild(v, flow)
	d.same(flow)
	d.High = math.Max(d.High, math.Min(flow, d.Last))
	d.Last = flow
	tapEnded := d.Tap.take(v, flow, tapFlow)
	hoseEnded, lawnEnded := d.Hose.take(v, flow, streamFlow), d.Lawn.take(v, flow, lawnFlow)
	if why, allowed := d.abnormal(v); why != "" {
		return d.raise(v, flow, why, allowed)
	}
	if tapEnded {
		d.Tap.end(true)
		d.Peak, d.High = math.Max(d.Peak, d.High), 0
	}
	if lawnEnded {
		d.Lawn.end(true)
	}
	if hoseEnded {
		d.Hose.end(true)
		d.Same, d.Base = 0, 0
	}
	return nil
}

// wild counts minutes of a flow beyond what the home ever had.
func (d *BurstWatch) wild(v *View, flow float64) {
	hour := v.Local.Hour()
	if day := hour >= dayFrom && hour < dayTo && len(v.Home.Bypassed) == 0; !day || d.Known < maturePeak || flow < math.Max(dayFlow, hugeTimes*d.Peak) {
		d.Huge = 0
	} else {
		d.Huge++
	}
	if flow < math.Max(wildFlow, hugeTimes*d.Peak*b2f(d.Known >= maturePeak)) {
		d.Wild = 0
		return
	}
	if d.Wild++; d.Wild == 1 {
		d.WildFrom = v.Minute.Start
	}
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// same counts minutes of one flow; short other uses on top of it do not break it.
func (d *BurstWatch) same(flow float64) {
	if math.Abs(flow-d.Base) <= samePart*d.Base {
		d.Same, d.Off = d.Same+1, 0
		return
	}
	if d.Off++; d.Off >= 5 || d.Base == 0 {
		d.Base, d.Same, d.Off = flow, 0, 0
	}
}

// abnormal names why the stream is not this home's, and what it is allowed, in
// minutes.
func (d *BurstWatch) abnormal(v *View) (why string, allowed int) {
	lawn := lawnMinutes
	if len(v.Home.Bypassed) > 0 {
		lawn = gardenMinutes
	}
	pool, dark := d.Hose.limit(poolMinutes), d.Hose.limit(lawnMinutes)
	lawn = d.Lawn.limit(lawn)
	switch {
	case d.Wild >= wildMinutes && d.Known >= maturePeak, d.Wild >= 3*wildMinutes:
		return "far_above_peak", wildMinutes
	case d.Huge >= dayMinutes:
		return "far_above_peak", dayMinutes
	case len(v.Home.Bypassed) == 0 && d.Base >= lawnFlow && d.Same >= d.Lawn.limit(samenessMinutes):
		return "unchanging", samenessMinutes
	case d.Lawn.Minutes >= lawn:
		return "endless", lawn
	case d.Hose.Minutes >= pool:
		return "endless", pool
	case d.Hose.Night >= nightHose && !d.Hose.ByDay && d.Hose.Minutes >= dark, d.Hose.Night >= poolNight && d.Hose.Minutes >= dark:
		return "endless_at_night", dark
	case d.Tap.Minutes >= d.Tap.limit(tapMinutes) && d.Tap.Litres < streamFlow*float64(d.Tap.Minutes):
		return "tap", d.Tap.limit(tapMinutes)
	case d.Known >= maturePeak && d.Tap.ByDay && d.Tap.From.In(v.Home.Location).Hour() >= dayTapFrom &&
		d.Tap.Minutes >= d.Tap.limitNow(dayTap) && d.Tap.Litres < streamFlow*float64(d.Tap.Minutes):
		return "tap", d.Tap.limitNow(dayTap)
	case d.Known >= maturePeak && d.Hose.ByDay && d.Hose.Minutes >= d.Hose.limitNow(hoseMinutes):
		return "longer_than_ever", d.Hose.limitNow(hoseMinutes)
	}
	return "", 0
}

func (d *BurstWatch) raise(v *View, flow float64, why string, allowed int) *Verdict {
	s := &d.Hose
	d.Onset, d.Size = s.From, s.Litres/math.Max(float64(s.Minutes), 1)
	severity := detect.ActNow
	switch why {
	case "tap":
		s, severity = &d.Tap, detect.ThisWeek
		d.Onset, d.Size = s.From, s.Litres/float64(s.Minutes)
	case "longer_than_ever":
		severity = detect.ThisWeek
	case "far_above_peak":
		if d.Size = flow; d.Wild > 0 {
			d.Onset = d.WildFrom
		}
	}
	d.Asked = why == "longer_than_ever"
	lasted := v.Minute.Start.Sub(d.Onset)
	u := wordsFor(v.Home.Units)
	e := detect.Evidence{
		"size_l_per_min": round(d.Size, 1), "lasted_min": round(lasted.Minutes(), 0), "litres_l": round(s.Litres, 0), "why": why,
		"allowed_min": allowed, "longest_before_min": int(slices.Max(s.Longest[:])), "peak_before_l_per_min": round(d.Peak, 1),
		"cost_per_h": round(d.Size*0.06*v.Home.Costs.Water, 2), "smallest_visible_l_per_min": tapFlow,
	}
	if !d.Standing {
		d.Raised++
	}
	d.Standing, d.Over = true, 0
	return &Verdict{Kind: detect.Burst, Standing: true, Severity: severity, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("Water has been running at %s for %s without a pause, more than this home ever uses at a time. If nobody is filling or watering something, close the main.", u.flow(d.Size), minutesText(lasted))}
}

func (d *BurstWatch) stepStanding(v *View, flow float64) *Verdict {
	d.Tap.take(v, flow, tapFlow)
	d.Hose.take(v, flow, streamFlow)
	if d.Lawn.take(v, flow, lawnFlow) && d.Asked { // another tap on top of it for a while
		d.Lawn.end(false)
	}
	if flow >= math.Min(streamFlow, d.Size/2) {
		d.Over = 0
		if why, allowed := d.abnormal(v); d.Asked && why != "" && why != "longer_than_ever" && why != "tap" {
			return d.raise(v, flow, why, allowed)
		}
		return nil
	}
	if d.Over++; d.Over < streamOver {
		return nil
	}
	learn := d.Raised > 1
	d.Tap.end(learn)
	d.Hose.end(learn)
	d.Lawn.end(learn)
	d.Standing, d.Asked, d.Wild, d.Huge, d.Same, d.Base, d.High = false, false, 0, 0, 0, 0, 0
	return &Verdict{Kind: detect.Burst}
}
