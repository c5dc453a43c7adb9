package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

const (
	// stuckFactor and stuckExtra are how much longer than its programme, or than
	// the longest this home has shown, a cycle's water must run: valves time
	// their phases, so that half as much again is no variation.
	stuckFactor = 1.5
	stuckExtra  = 20.0 // minutes
	// stuckFlow is the drain's flow that counts, L/min: the slowest rinse of a
	// household valve passes several times as much.
	stuckFlow = 0.2
	// stuckPause is how long the drain may pause within a cycle, minutes.
	stuckPause = 15
	// stuckDry is how long the drain must be dry for the finding to end, minutes.
	stuckDry = 60
	// stuckLead is how many dry minutes must precede the stream, so that a drain
	// that ran all day is not taken for a cycle.
	stuckLead = 30
	// stuckBegin is how near the stream's start the cycle is believed to have begun:
	// a drain that has run for days is not stuck when its softener regenerates.
	stuckBegin = 45 * time.Minute
)

// RegenerationStuckWatch finds a cycle that does not end.
//
// Needs: the drain's meter. Without it a cycle is judged only by the record that
// says it never ended.
// Statistic: how long the drain has run, pauses of stuckPause minutes included,
// since a stream that began dry and was believed a regeneration; against half as
// much again as the programme or the home's longest sound cycle.
// False alarms: a phase is timed by the valve's motor, so that none is expected;
// a tap cannot run to the softener's drain.
// Smallest fault visible: a valve that stands in backwash, draw or rinse. One that
// stands in refill or in service moves nothing once the float has closed.
// Closes when the drain has been dry for an hour, or at the next sound cycle.
// Source: common practice, no source.
type RegenerationStuckWatch struct {
	Dry      int       // dry minutes up to now, or before the stream
	Stream   int       // minutes since the stream began; 0 none
	Gap      int       // dry minutes in it
	From     time.Time // its start
	Cycle    bool      // it was believed a regeneration
	Litres   float64
	Longest  float64 // minutes of the longest sound cycle
	Standing bool
	Onset    time.Time
}

// Step follows the drain and looks at finished cycles.
func (d *RegenerationStuckWatch) Step(v *View) *Verdict {
	if e := v.judged(); e != nil {
		if said := d.record(v); said != nil {
			return said
		}
	}
	flow, ok := v.Minute.Get(detect.DrainFlow)
	if !ok {
		return nil
	}
	d.follow(v, flow)
	switch {
	case d.Standing && d.Dry >= stuckDry:
		return d.close()
	case d.Standing || d.Stream == 0 || !d.Cycle || d.Gap > 2:
		return nil
	}
	if limit := d.limit(v.Home); float64(d.Stream) > limit {
		d.Standing, d.Onset = true, d.From.Add(time.Duration(limit/stuckFactor)*time.Minute)
		return d.verdict(v, detect.ActNow, float64(d.Stream))
	}
	return nil
}

// limit is how many minutes a cycle may take.
func (d *RegenerationStuckWatch) limit(h *detect.Home) float64 {
	return stuckFactor*math.Max(h.Softener.ProgrammeLength().Minutes(), d.Longest) + stuckExtra
}

// follow keeps the stream down the drain.
func (d *RegenerationStuckWatch) follow(v *View, flow float64) {
	if flow < stuckFlow {
		d.Dry++
		if d.Gap++; d.Gap > stuckPause+int(v.pulseAt(detect.DrainFlow)/stuckFlow) {
			d.Stream, d.Cycle = 0, false
		}
		if d.Stream > 0 {
			d.Stream++
		}
		return
	}
	if d.Stream == 0 {
		if d.Dry < stuckLead {
			d.Dry = 0
			return
		}
		d.From, d.Litres = v.Minute.Start, 0
	}
	d.Stream++
	d.Litres += flow
	d.Dry, d.Gap = 0, 0
	if v.Regenerating && v.Ongoing.Probability >= 0.5 && v.Ongoing.Start.Sub(d.From).Abs() < stuckBegin {
		d.Cycle = true
	}
}

// record judges a finished cycle: one that never ended is a finding where no
// drain is seen, a sound one teaches and ends a standing finding.
func (d *RegenerationStuckWatch) record(v *View) *Verdict {
	r := v.Record
	if r.Ending == regeneration.NeverEnded && !d.Standing && math.IsNaN(r.DrainLitres) {
		d.Standing, d.Onset = true, r.Start
		return d.verdict(v, detect.ThisWeek, r.End.Sub(r.Start).Minutes())
	}
	minutes := r.End.Sub(r.Start).Minutes()
	if r.Ending != regeneration.Completed || minutes > d.limit(v.Home) {
		return nil
	}
	if minutes < stuckFactor*v.Home.Softener.ProgrammeLength().Minutes() {
		d.Longest = math.Max(d.Longest, minutes)
	}
	if d.Standing {
		return d.close()
	}
	return nil
}

func (d *RegenerationStuckWatch) close() *Verdict {
	d.Standing, d.Stream, d.Cycle = false, 0, false
	return &Verdict{Kind: detect.RegenerationStuck}
}

func (d *RegenerationStuckWatch) verdict(v *View, s detect.Severity, minutes float64) *Verdict {
	programme := v.Home.Softener.ProgrammeLength()
	e := detect.Evidence{"running_min": round(minutes, 0), "programme_min": round(programme.Minutes(), 0), "longest_before_min": round(d.Longest, 0)}
	tail := "Put the softener into bypass and have the valve looked at."
	if s == detect.ActNow {
		rate := ratioOrNaN(d.Litres, minutes)
		e["drain_l"], e["litres_per_day"] = round(d.Litres, 0), round(rate*1440, 0)
		tail = fmt.Sprintf("It loses %s an hour: put the softener into bypass.", wordsFor(v.Home.Units).volume(rate*60))
	}
	return &Verdict{Kind: detect.RegenerationStuck, Standing: true, Severity: s, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("The softener has been regenerating for %s and does not stop; it should take %s. %s",
			minutesText(time.Duration(minutes)*time.Minute), minutesText(programme), tail)}
}
