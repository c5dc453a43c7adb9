package finding

import (
	"fmt"
	"time"

	"brinebell/detect"
)

const (
	// nonsense is in how many minutes of a day a signal must have shown what cannot be.
	nonsense = 5
	// unusable is how many minutes of a day a meter that speaks must have left
	// unknown: its totals went back, or leapt by more than a pipe carries.
	unusable = 240
	// sane is for how long nothing of it must be seen for the finding to end.
	sane = 48 * time.Hour
)

// physical is what a signal can be.
type physical struct{ low, high float64 }

// limits is the range of a signal's values, wide enough for every sound
// sensor's error. Pressures: no household main exceeds 1,600 kPa; power: what a socket
// gives; conductivity: sea water.
func limits(s detect.Signal, h *detect.Home) physical {
	switch s {
	case detect.BrineLevel, detect.SaltLevel:
		return physical{-10, h.BrineTank.Height + 100}
	case detect.InletPressure, detect.OutletPressure:
		return physical{-20, 1600}
	case detect.ValvePower:
		return physical{-2, 4000}
	case detect.RawHardness, detect.ColdHardness, detect.HotHardness:
		return physical{-20, 5000}
	case detect.RawIron:
		return physical{-1, 100}
	case detect.SoftConductivity:
		return physical{-5, 60000}
	case detect.WaterTemperature:
		return physical{-5, 95}
	case detect.FloorWet:
		return physical{-0.01, 1.01}
	}
	return physical{-0.5, 100.5} // battery
}

// oddity counts what one signal has shown that cannot be.
type oddity struct {
	Day   int16 // of the present day
	Value float32
	Wrong bool
}

// SensorImplausibleWatch finds a sensor that shows what physics does not allow.
//
// Needs: the sensor itself.
// Statistic: minutes of a day outside the signal's physical range; for a meter,
// minutes left unknown although it speaks, because its total went back or its flow was
// below nothing or beyond what a pipe carries.
// False alarms: none from sound sensors; a level above the tank's height as the profile has
// it and 100 mm more would be a wrong profile.
// Smallest fault visible: five such minutes in a day, four hours of a meter's.
// Closes after two days without.
// Source: physics; see limits.
type SensorImplausibleWatch struct {
	Odd      [detect.NumSignals]oddity
	Minutes  int // of the present day
	Last     time.Time
	First    time.Time // first odd minute of the day
	Standing bool
	Onset    time.Time
}

// Step looks at every value.
func (d *SensorImplausibleWatch) Step(v *View) *Verdict {
	if d.Minutes++; d.Minutes >= 1440 {
		d.Minutes, d.First = 0, time.Time{}
		for s := range d.Odd {
			d.Odd[s].Day = 0
		}
	}
	grew := false
	for s, x := range v.Minute.Values[detect.BrineLevel:] {
		if s := detect.BrineLevel + detect.Signal(s); x == x {
			if l := limits(s, v.Home); x < l.low || x > l.high {
				grew = d.count(v, s, x, nonsense) || grew
			}
		}
	}
	for point := detect.InletFlow; point <= detect.DrainFlow; point += 2 {
		if x := v.Minute.Values[point]; x != x && v.Sensors.HasFlow(point) && speaks(v, point) {
			grew = d.count(v, point, -1, unusable) || grew
		}
	}
	switch {
	case grew:
		return d.verdict(v)
	case d.Standing && v.Minute.Start.Sub(d.Last) >= sane:
		d.Standing = false
		for s := range d.Odd {
			d.Odd[s] = oddity{}
		}
		return &Verdict{Kind: detect.SensorImplausible}
	}
	return nil
}

// speaks says whether the point's meter reports in time for its minutes to be
// known.
func speaks(v *View, point detect.Signal) bool {
	m := v.Sensors.Meter(point)
	return m.Interval > 0 && m.Interval <= 120 && v.Now.UnixMilli()-m.At < 5*60_000 && m.At > v.Minute.Start.UnixMilli()
}

// count notes an odd minute and says whether the signal has just become known
// for it.
func (d *SensorImplausibleWatch) count(v *View, s detect.Signal, x float64, most int16) bool {
	if d.First.IsZero() {
		d.First = v.Minute.Start
	}
	o := &d.Odd[s]
	o.Day++
	o.Value = float32(x)
	if o.Wrong || d.Standing {
		d.Last = v.Minute.Start
	}
	if o.Wrong || o.Day < most {
		return false
	}
	if !d.Standing {
		d.Standing, d.Onset = true, d.First
	}
	o.Wrong, d.Last = true, v.Minute.Start
	return true
}

func (d *SensorImplausibleWatch) verdict(v *View) *Verdict {
	var names []string
	e := detect.Evidence{}
	for s, o := range d.Odd {
		if o.Wrong {
			names = append(names, detect.Signal(s).String())
			e[detect.Signal(s).String()+"_minutes"] = int(o.Day)
		}
	}
	e["signals"] = sensorNames(names)
	return &Verdict{Kind: detect.SensorImplausible, Standing: true, Severity: detect.ThisWeek, Onset: d.Onset, Evidence: e,
		Summary: fmt.Sprintf("A sensor shows values that cannot be (%s). What it watches is not watched reliably: look at its cable, its place and its battery.", sensorNames(names))}
}
