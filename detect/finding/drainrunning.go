package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// drainTrickle is the least flow that counts in a minute, L/min: half of
	// what a weeping seat that anyone would repair passes.
	drainTrickle = 0.02
	// drainFast is how long a stream must last to be raised at once, minutes.
	drainFast = 8
	// drainFastFlow is the least mean flow of such a stream, L/min.
	drainFastFlow = 0.2
	// drainHours is how many hours in a row must each have passed drainHourly
	// litres and a pulse for a trickle to be raised.
	drainHours  = 6
	drainHourly = 1.0
	// settle is how long after a regeneration the drain may still drip, minutes.
	settle = 15
	// overrun is how much longer than its programme a cycle may take to its last
	// drop, as when a fouled injector sucks slowly.
	overrun = 1.5
	// drainDry is how long the drain must be dry again for the finding to end,
	// minutes.
	drainDry = 60
)

// drainActNow is from which L/min on nobody waits a week: as much runs off as one
// more person would use indoors, 58.6 gallons a day (DeOreo et al., Residential End
// Uses of Water, Version 2, WRF 4309, 2016).
const drainActNow = 58.6 * 3.785411784 / 1440

// DrainRunningWatch finds water running to the drain in service.
//
// Needs: the drain's meter. Sharper with brine_level, by which regenerations
// are told apart.
// Statistic: an unbroken stream of drainFast minutes that is no regeneration,
// or drainHours in a row that each passed drainHourly litres and a pulse
// outside regenerations. In service the drain of a sound softener is dry.
// Smallest fault visible: about 0.02 L/min with a fine meter, with a pulse p in
// litres (1 + p)/60 L/min.
// Closes when the drain has been dry for an hour.
// Source: common practice, no source.
type DrainRunningWatch struct {
	Stream   int       // minutes of the present stream
	Litres   float64   // passed in it
	From     time.Time // its start
	Gap      int       // dry minutes in it
	Hours    int       // wet hours in a row
	HoursOf  float64   // litres in them
	HourFrom time.Time // start of the first of them
	Hour     float64   // litres in the hour being counted
	HourSeen int       // minutes known in it
	Settling int       // minutes left after a regeneration
	Standing bool
	Dry      int // minutes
	Onset    time.Time
	Flow     float64
}

// Step looks at the drain.
func (d *DrainRunningWatch) Step(v *View) *Verdict {
	flow, ok := v.Minute.Get(detect.DrainFlow)
	if !ok {
		return nil
	}
	if v.Regenerating {
		whole := v.Ongoing.Start.Add(time.Duration(overrun * float64(v.Home.Softener.ProgrammeLength())))
		d.Settling = max(settle, int(whole.Sub(v.Minute.Start).Minutes()))
	}
	if d.Settling > 0 {
		d.Settling--
		d.Stream, d.Litres, d.Gap = 0, 0, 0
		return nil
	}
	d.follow(v, flow)
	hours := d.countHour(v, flow)
	if d.Standing {
		return d.stepStanding(v, flow)
	}
	switch {
	case d.Stream >= v.drainPatience() && d.Litres >= drainFastFlow*float64(d.Stream)+2*v.pulseAt(detect.DrainFlow):
		return d.raise(v, d.From, d.Litres/float64(d.Stream))
	case hours && d.Hours >= drainHours:
		return d.raise(v, d.HourFrom, d.HoursOf/float64(60*d.Hours))
	}
	return nil
}

// drainPatience is how many minutes a stream must last. A meter whose pulse is
// more than the slowest phase passes in a minute shows no phases until the
// cycle is over, so there it must outlast the whole programme.
func (v *View) drainPatience() int {
	pulse := v.pulseAt(detect.DrainFlow)
	for _, p := range v.Home.Softener.Cycle {
		if p.Phase != detect.Refill && p.Flow > 0 && p.Flow < pulse {
			return int(overrun * v.Home.Softener.ProgrammeLength().Minutes())
		}
	}
	return drainFast
}

// follow keeps the present stream; a coarse meter may pause it for a minute.
func (d *DrainRunningWatch) follow(v *View, flow float64) {
	if flow >= drainTrickle {
		if d.Stream == 0 {
			d.From = v.Minute.Start
		}
		d.Gap = 0
	} else if d.Gap++; d.Stream == 0 || d.Gap > 1 {
		d.Stream, d.Litres, d.Gap = 0, 0, 0
		return
	}
	d.Stream++
	d.Litres += flow
}

// countHour adds to the hour and says whether one has just been completed.
func (d *DrainRunningWatch) countHour(v *View, flow float64) bool {
	d.Hour += flow
	if d.HourSeen++; d.HourSeen < 60 {
		return false
	}
	if d.Hour >= drainHourly+v.pulseAt(detect.DrainFlow) {
		if d.Hours == 0 {
			d.HourFrom, d.HoursOf = v.Minute.Start.Add(-time.Hour), 0
		}
		d.Hours++
		d.HoursOf += d.Hour
	} else {
		d.Hours = 0
	}
	d.Hour, d.HourSeen = 0, 0
	return true
}

func (d *DrainRunningWatch) raise(v *View, from time.Time, flow float64) *Verdict {
	d.Standing, d.Dry, d.Onset, d.Flow = true, 0, from, flow
	return d.verdict(v)
}

func (d *DrainRunningWatch) verdict(v *View) *Verdict {
	severity := detect.ThisWeek
	if d.Flow >= drainActNow {
		severity = detect.ActNow
	}
	u := wordsFor(v.Home.Units)
	e := detect.Evidence{
		"size_l_per_min":             round(d.Flow, 3),
		"litres_per_day":             round(d.Flow*1440, 0),
		"smallest_visible_l_per_min": round(math.Max(drainTrickle, (drainHourly+v.pulseAt(detect.DrainFlow))/60), 3),
	}
	return &Verdict{Kind: detect.DrainRunning, Standing: true, Severity: severity, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener sends water down its drain although it is not regenerating: %s, %s a day.", u.flow(d.Flow), u.volume(d.Flow*1440))}
}

func (d *DrainRunningWatch) stepStanding(v *View, flow float64) *Verdict {
	if flow >= drainTrickle {
		d.Dry = 0
		// The size is told anew when it has settled to something else.
		if now := d.Litres / float64(max(d.Stream, 1)); d.Stream >= 60 && math.Abs(now-d.Flow) > 0.3*d.Flow {
			d.Flow = now
			return d.verdict(v)
		}
		return nil
	}
	// A coarse meter is still between two pulses of a trickle.
	patience := drainDry + int(2*v.pulseAt(detect.DrainFlow)/math.Max(d.Flow, 1e-3))
	if d.Dry++; d.Dry < patience {
		return nil
	}
	d.Standing = false
	d.Hours, d.Stream = 0, 0
	return &Verdict{Kind: detect.DrainRunning}
}
