package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

// rungs are the lengths of the quiet windows looked for, in minutes, each with
// how many nights in a row must pass without one. A household that never
// pauses for an hour in a day and a night is rare, one that never pauses for
// four hours is not, so longer windows need more nights. Calibrated on
// 184 recorded days of a home and on simulated households; see DEVELOPERS.md.
var rungs = [...]struct{ minutes, nights int }{{60, 2}, {120, 3}, {180, 4}, {240, 6}}

const (
	// leastLeak is the smallest leak claimed, L/min: 7 L a day, a slow drip.
	leastLeak = 0.005
	// The night is from midnight to nightEnds o'clock, local.
	nightEnds    = 6
	nightMinutes = nightEnds * 60
	// nightSeen is how much of a night must be known for it to count.
	nightSeen = 3 * 60
	// dayAndNight is how long a home that is known to pause every night must go
	// without an hour's pause for a regular trickle to be raised before the
	// second morning, and dayAndNightDark how much of that must lie in the
	// night; minutes.
	dayAndNight     = 20 * 60
	dayAndNightDark = 4 * 60
	// knownToPause is how many nights with a pause of three hours make a home
	// known for it.
	knownToPause = 3
	// alikeMornings is how many mornings in a row must show water as only a
	// leak comes, at rates within alikeRate of each other; restless how many
	// nights without an hour's pause convince although it comes irregularly.
	alikeMornings = 2
	alikeRate     = 0.4
	restless      = 5
	// trickle is the largest rate, L/min, raised that early: more may be a pool
	// being filled.
	trickle = 1.0
	// sinceSeen is the share of the time since the last pause that must be known.
	sinceSeen = 0.6
)

// NightLeakWatch finds water that never stops.
//
// Needs: one flow point at the house main or the softener. Sharper with the
// drain's meter, whose water is taken off.
// Statistic: the time since water last paused, a pause being a window of one to
// four hours that passed less than leastLeak and one pulse of the meter.
// Raised in the local morning when the last two nights (three, four, six for the
// longer windows) and all known time between were without a pause. Every
// household stops its water for an hour within two days unless something runs,
// so ordinary nights, showers at two and timed irrigation do not count. A
// regular trickle in a home known for its quiet nights is raised after a day
// and a night.
// Smallest leak visible: leastLeak with a fine meter, else about three pulses in
// the longest window (see VisibleLeak).
// People are irregular: but for the missing hour, the water must also come
// steadily or in like portions.
// Closes after two nights with a pause of the kind whose absence raised it.
// Source: reading a least night flow is common practice in water supply (Water
// 2024, 16(24), 3642); a meter must not move in two hours without use (EPA
// WaterSense).
type NightLeakWatch struct {
	LastPause [len(rungs)]time.Time // end of the last pause, per rung
	Nights    [len(rungs)]int       // nights since it, as far as they were seen
	Known     [len(rungs)]int       // minutes known since it
	Dark      int                   // of those of the first rung, minutes in the night
	Pauses    int                   // nights with a pause of the third rung, up to knownToPause
	Alike     int                   // mornings in a row with a leak's water at a like rate
	Rate      float64               // of the last of them, L/min
	Begin     time.Time             // first minute seen
	Hour      int64                 // Unix hour last taken in
	Seen      int                   // minutes of the present night known so far
	Standing  bool
	Onset     time.Time // of what stands
	Rung      int
	Calm      int // nights with a pause while standing
}

// VisibleLeak is the smallest leak, in L/min, that the detector can find with a
// meter of this pulse in litres, which stands still below its starting flow.
func VisibleLeak(pulse, starting float64) float64 {
	longest := float64(rungs[len(rungs)-1].minutes)
	return max(leastLeak, starting, (leastLeak*longest+2*pulse)/longest)
}

func (v *View) visibleLeak() float64 {
	starting := 0.0
	if m := v.Home.Meters.At(v.Leading); m != nil {
		starting = m.StartingFlow
	}
	return VisibleLeak(v.pulse(), starting)
}

// Step takes in each hour as it ends and judges then.
func (d *NightLeakWatch) Step(v *View) *Verdict {
	if d.Begin.IsZero() {
		d.Begin, d.Hour = v.Minute.Start, v.Minute.Start.Unix()/3600
	}
	hour := v.Minute.Start.Unix() / 3600
	if hour == d.Hour {
		return nil
	}
	d.Hour = hour
	var buf [logSpan]float32
	day := v.Log.Span(v.Minute.Start.Add(-logSpan*time.Minute), len(buf), buf[:0])
	d.hear(v, day)
	morning := v.Local.Hour() == nightEnds
	if morning {
		d.countNight()
	}
	if d.Standing {
		return d.judgeStanding(v, day, morning)
	}
	return d.judge(v, day, morning)
}

// logSpan is the look back, minutes.
const logSpan = 24 * 60

// hear takes in the hour that has ended.
func (d *NightLeakWatch) hear(v *View, day []float32) {
	from := v.Minute.Start.Add(-logSpan * time.Minute)
	known := knownIn(day[len(day)-60:])
	dark := v.Local.Hour() >= 1 && v.Local.Hour() <= nightEnds
	if dark {
		d.Seen += known
	}
	for i, r := range rungs {
		d.Known[i] += known
		if i == 0 && dark {
			d.Dark += known
		}
		// A pause that ended before the last hour was found when that hour ended,
		// unless what was unknown then has become known since.
		end := lastDry(day, r.minutes, leastLeak*float64(r.minutes)+1.01*v.pulse())
		if end < 0 {
			continue
		}
		if at := from.Add(time.Duration(end) * time.Minute); at.After(d.LastPause[i]) {
			d.LastPause[i], d.Nights[i], d.Known[i] = at, 0, knownIn(day[end:])
			if i == 0 {
				d.Dark = 0
			}
		}
	}
}

// countNight closes the night that ends now: it counts for a rung when enough
// of it was seen after the rung's last pause.
func (d *NightLeakWatch) countNight() {
	now := time.Unix(d.Hour*3600, 0)
	for i := range rungs {
		since := int(now.Sub(d.LastPause[i]).Minutes())
		switch seen := min(d.Seen, since); {
		case seen >= nightSeen:
			d.Nights[i]++
		case i == 2 && d.Seen >= nightSeen:
			d.Pauses = min(d.Pauses+1, knownToPause)
		}
	}
	d.Seen = 0
}

func knownIn(flows []float32) (n int) {
	for _, f := range flows {
		if f == f {
			n++
		}
	}
	return n
}

func (d *NightLeakWatch) judge(v *View, day []float32, morning bool) *Verdict {
	if morning {
		d.remember(d.measure(v, day, d.lowestUnpaused()))
	}
	for i, r := range rungs {
		since := v.Minute.Start.Sub(d.onset(i)).Minutes()
		if float64(d.Known[i]) < sinceSeen*since {
			continue
		}
		long := morning && d.Nights[i] >= r.nights && (d.Alike >= alikeMornings || d.Nights[0] >= restless)
		early := i == 0 && d.Known[0] >= dayAndNight && d.Dark >= dayAndNightDark && d.Pauses >= knownToPause
		if !long && !early {
			continue
		}
		s := d.measure(v, day, i)
		if s.rate >= leastLeak && (long || s.regular && s.rate < trickle) {
			d.Standing, d.Rung, d.Calm, d.Onset = true, i, 0, d.onset(i)
			return d.verdict(v, s)
		}
	}
	return nil
}

// lowestUnpaused is the shortest window without which the night passed; the
// longest when there was none.
func (d *NightLeakWatch) lowestUnpaused() int {
	for i, nights := range d.Nights {
		if nights > 0 {
			return i
		}
	}
	return len(rungs) - 1
}

// remember counts the mornings in a row on which the night's water came as only
// a leak's does, at a like rate.
func (d *NightLeakWatch) remember(s leakShape) {
	switch {
	case !s.regular:
		d.Alike = 0
	case math.Abs(s.rate-d.Rate) <= alikeRate*d.Rate:
		d.Alike++
	default:
		d.Alike = 1
	}
	d.Rate = s.rate
}

func (d *NightLeakWatch) judgeStanding(v *View, day []float32, morning bool) *Verdict {
	if !morning || knownIn(day[len(day)-nightMinutes:]) < nightSeen {
		return nil
	}
	if d.Nights[d.Rung] > 0 {
		d.Calm = 0
		if s := d.measure(v, day, d.Rung); s.rate >= leastLeak {
			return d.verdict(v, s)
		}
		return nil
	}
	if d.Calm++; d.Calm < 2 {
		return nil
	}
	d.Standing = false
	return &Verdict{Kind: detect.NightLeak}
}

// onset is when water last paused; before the first pause, when watching began.
func (d *NightLeakWatch) onset(rung int) time.Time {
	if t := d.LastPause[rung]; !t.IsZero() {
		return t
	}
	return d.Begin
}

// swollen is how much larger a longer window's rate may be before ordinary use
// is taken to be in it.
const swollen = 1.25

// measure takes the leak's shape from the quietest hours since the rung's last
// pause: the longest window that ordinary use has not visibly swelled.
func (d *NightLeakWatch) measure(v *View, day []float32, rung int) leakShape {
	since := int(v.Minute.Start.Sub(d.onset(rung)).Minutes())
	day = day[len(day)-min(since, len(day)):]
	var best leakShape
	for _, r := range rungs {
		start, litres := quietest(day, r.minutes)
		if start < 0 || litres == 0 {
			continue
		}
		s := shapeOf(day[start:start+r.minutes], v.pulse())
		if best.clear && s.rate > swollen*best.rate {
			break
		}
		best = s
	}
	return best
}

func (d *NightLeakWatch) verdict(v *View, s leakShape) *Verdict {
	severity := detect.ThisWeek
	if s.rate >= 1 {
		severity = detect.ActNow
	}
	e := detect.Evidence{
		"size_l_per_min":             round(s.rate, 4),
		"litres_per_day":             round(s.rate*1440, 1),
		"pattern":                    string(s.pattern),
		"nights_without_a_pause":     d.Nights[d.Rung],
		"pause_looked_for_min":       rungs[d.Rung].minutes,
		"smallest_visible_l_per_min": round(v.visibleLeak(), 4),
		"meter":                      v.meterName(),
	}
	if s.pattern == Refilling {
		e["portion_l"] = round(s.portion, 2)
		e["every_min"] = round(s.every.Minutes(), 1)
	}
	return &Verdict{Kind: detect.NightLeak, Standing: true, Severity: severity, Onset: d.Onset, Evidence: e, Summary: d.say(v, s)}
}

func (d *NightLeakWatch) say(v *View, s leakShape) string {
	u := wordsFor(v.Home.Units)
	since := daysText(v.Minute.Start.Sub(d.Onset))
	daily := u.volume(s.rate*1440) + " a day"
	switch s.pattern {
	case Refilling:
		return fmt.Sprintf("For %s water has run again and again, by day and by night: about %s every %s, %s.", since, u.volume(s.portion), minutesText(s.every), daily)
	case Pulsing:
		return fmt.Sprintf("For %s water has never rested for long: irregular small amounts, %s on average, %s.", since, u.flow(s.rate), daily)
	}
	return fmt.Sprintf("Water has not stopped running for %s: a steady trickle of %s, %s.", since, u.flow(s.rate), daily)
}
