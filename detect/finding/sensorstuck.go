package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// stuckFor is how long a signal must show one value, minutes, and stuckTimes
	// how many times its longest earlier stillness.
	stuckFor, stuckTimes = 24 * 60, 4
	// lively is how many minutes must have shown another value than the one before.
	lively = 300
	// passedBy is how many regenerations must have passed a still brine level where the sensor
	// is too coarse to show noise.
	passedBy = 2
	// alive is how many changes end the finding.
	alive = 3
)

// stuckSignals are those that never stand quite still while they work.
var stuckSignals = [...]detect.Signal{detect.BrineLevel, detect.InletPressure, detect.OutletPressure, detect.SaltLevel, detect.SoftConductivity, detect.WaterTemperature,
	detect.ValvePower}

// still is how one signal moves.
type still struct {
	Value   float64
	Same    int32 // minutes in a row with this value
	Longest int32 // longest before
	Changes int16 // up to lively
	Passed  int8  // regenerations seen to pass since the value last changed
	Stuck   bool
	Moved   int8
}

// SensorStuckWatch finds a level, pressure or other gauge that no longer moves at
// all.
//
// Needs: the gauge itself. Sharper with the drain's meter, by which
// regenerations are seen to pass.
// Statistic: reports in a row of exactly one value: a day of them and four
// times the longest before, in a gauge that used to flicker; or two regenerations, each with
// water to the drain, that left a brine level exactly where it was, and longer than
// ever before.
// False alarms: a gauge that flickers changes in most minutes, so a day without change is no chance;
// a brine level on a coarse gauge that two failed draws and refills left alone.
// Smallest fault visible: a day.
// Closes when the gauge has moved in three minutes.
// Source: common practice, no source.
type SensorStuckWatch struct {
	Gauges   [len(stuckSignals)]still
	Standing bool
	From     time.Time
}

// Step compares each gauge with its last value.
func (d *SensorStuckWatch) Step(v *View) *Verdict {
	grew := false
	for i, s := range stuckSignals {
		if x := v.Minute.Values[s]; x == x {
			grew = d.Gauges[i].take(x) || grew
		}
	}
	if r := v.Record; r != nil && r.DrainLitres > 20 && r.Confidence >= 0.8 {
		if g := &d.Gauges[0]; g.Same > 0 && v.Minute.Start.Add(-time.Duration(g.Same)*time.Minute).Before(r.Start) {
			g.Passed = min(g.Passed+1, passedBy)
			if g.Passed >= passedBy && g.Same > 2*g.Longest && !g.Stuck {
				g.Stuck, grew = true, true
			}
		}
	}
	switch {
	case grew:
		return d.verdict(v)
	case d.Standing:
		return d.stepStanding()
	}
	return nil
}

// take takes a value and says whether the gauge has just become stuck.
func (g *still) take(x float64) bool {
	if x == g.Value {
		g.Same++
		if g.Stuck || g.Changes < lively || g.Same < stuckFor || g.Same < stuckTimes*g.Longest {
			return false
		}
		g.Stuck = true
		return true
	}
	if g.Stuck {
		if g.Moved++; g.Moved >= alive {
			g.Stuck, g.Moved = false, 0
		}
	} else {
		g.Longest = max(g.Longest, g.Same)
	}
	g.Changes = min(g.Changes+1, lively)
	g.Value, g.Same, g.Passed = x, 0, 0
	return false
}

func (d *SensorStuckWatch) stepStanding() *Verdict {
	for i := range d.Gauges {
		if d.Gauges[i].Stuck {
			return nil
		}
	}
	d.Standing = false
	return &Verdict{Kind: detect.SensorStuck}
}

func (d *SensorStuckWatch) verdict(v *View) *Verdict {
	var names []string
	e := detect.Evidence{}
	for i, s := range stuckSignals {
		g := &d.Gauges[i]
		if !g.Stuck {
			continue
		}
		names = append(names, s.String())
		e[s.String()+"_at"] = round(g.Value, 1)
		if from := v.Minute.Start.Add(-time.Duration(g.Same) * time.Minute); !d.Standing {
			d.From, d.Standing = from, true
		}
		e["still_reports"], e["regenerations_passed"] = g.Same, g.Passed
	}
	e["signals"] = sensorNames(names)
	return &Verdict{Kind: detect.SensorStuck, Standing: true, Severity: detect.ThisWeek, Onset: d.From, Evidence: e,
		Summary: fmt.Sprintf("A sensor has shown exactly the same value since %s (%s). It is stuck: what it shows is not believed until it moves.",
			d.From.In(v.Home.Location).Format("2 January 15:04"), sensorNames(names))}
}
