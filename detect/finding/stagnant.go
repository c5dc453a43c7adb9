package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// standsFor is how long water may stand in the pipes before they are to be
	// flushed: outlets that are not used are flushed weekly (HSE, Approved Code
	// of Practice L8 with HSG274 part 2, from memory).
	standsFor = 7 * 24 * time.Hour
	// standsSeen is the share of that time that must have been measured.
	standsSeen = 0.9
	// stirred is how much must pass within a day to count as use, L.
	stirred = 5.0
)

// StagnantWatch finds water that has stood in the pipes for long.
//
// Needs: one flow point. With a second meter, or a drain meter behind the first,
// a dead meter is told apart: where another one moves, nothing is said here.
// With a single meter it cannot be told, and the text says so.
// Statistic: time since the home last used five litres within a day;
// regenerations do not count as use.
// False alarms: every holiday of a week raises it, as it should.
// Closes with the next five litres.
// Source: HSE L8, weekly flushing of outlets that are not used (from memory).
type StagnantWatch struct {
	Used     time.Time // end of the last use
	Litres   float64   // in the day being counted
	Day      int       // minutes of it
	Known    int       // minutes known since Used
	Standing bool
}

// Step looks at all meters.
func (d *StagnantWatch) Step(v *View) *Verdict {
	flow, ok := v.Minute.Get(v.Leading)
	if !ok {
		return nil
	}
	if other, seen := v.Minute.Get(detect.ServiceFlow); seen && other > flow {
		flow = other
	}
	if drain, seen := v.Minute.Get(detect.DrainFlow); seen && v.beforeDrain(v.Leading) && flow > 0 {
		flow = max(0, flow-drain)
	} else if seen && drain > 0.5 && v.beforeDrain(v.Leading) {
		flow = stirred // it runs past a meter that stands still: the meter's trouble
	}
	if v.Regenerating {
		flow = 0
	}
	d.Known++
	d.Litres += flow
	if d.Used.IsZero() || d.Litres >= stirred {
		return d.use(v)
	}
	if d.Day++; d.Day >= 1440 {
		d.Day, d.Litres = 0, 0
	}
	stood := v.Minute.Start.Sub(d.Used)
	if d.Standing || stood < standsFor || float64(d.Known) < standsSeen*stood.Minutes() {
		return nil
	}
	d.Standing = true
	return d.verdict(v, stood)
}

func (d *StagnantWatch) use(v *View) *Verdict {
	*d = StagnantWatch{Used: v.Minute.Start.Add(time.Minute), Standing: d.Standing}
	if !d.Standing {
		return nil
	}
	d.Standing = false
	return &Verdict{Kind: detect.Stagnant}
}

func (d *StagnantWatch) verdict(v *View, stood time.Duration) *Verdict {
	witnessed := v.Sensors.HasFlow(detect.InletFlow) && v.Sensors.HasFlow(detect.ServiceFlow)
	text := fmt.Sprintf("No water has been used for %s. Before you use it again, let every tap run for a few minutes, hot and cold, without breathing in the spray.", daysText(stood))
	if !witnessed {
		text += " If somebody has been at home, the meter has stopped."
	}
	e := detect.Evidence{"still_days": round(stood.Hours()/24, 1), "second_meter": witnessed, "away_known": v.away(d.Used, v.Minute.Start)}
	return &Verdict{Kind: detect.Stagnant, Standing: true, Severity: detect.Plan, Onset: d.Used, Summary: text, Evidence: e}
}
