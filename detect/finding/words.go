package finding

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"brinebell/detect"
)

// words says quantities in a household's own units.
type words struct{ us bool }

func wordsFor(u detect.Units) words { return words{us: u == detect.US} }

func (w words) say(v float64, unit, usUnit string, d detect.Dimension) string {
	if w.us {
		v, _ = detect.FromCanonical(v, usUnit, d)
		unit = usUnit
	}
	return figures(v) + " " + unit
}

func (w words) flow(v float64) string   { return w.say(v, "L/min", "gpm", detect.FlowRate) }
func (w words) volume(v float64) string { return w.say(v, "L", "gal", detect.Volume) }
func (w words) mass(v float64) string   { return w.say(v, "kg", "lb", detect.Mass) }
func (w words) length(v float64) string { return w.say(v, "mm", "in", detect.Length) }

// figures writes two significant figures, or all before the point.
func figures(v float64) string {
	switch a := math.Abs(v); {
	case a == 0:
		return "0"
	case a >= 10:
		return strconv.FormatFloat(v, 'f', 0, 64)
	default:
		places := 1 - int(math.Floor(math.Log10(a)))
		s := strconv.FormatFloat(v, 'f', places, 64)
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return s
	}
}

func minutesText(d time.Duration) string {
	if d < 90*time.Minute {
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return figures(d.Hours()) + " h"
}

func daysText(d time.Duration) string {
	if d < 48*time.Hour {
		return figures(d.Hours()) + " hours"
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

// round keeps a number in the evidence short; places are decimals.
func round(v float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(v*p) / p
}

// pulse is the resolution of the meter that the log follows, litres.
func (v *View) pulse() float64 { return v.pulseAt(v.Leading) }

// defaultPulse is assumed of a meter that the profile does not describe, until
// it has shown its own.
const defaultPulse = 0.1

func (v *View) pulseAt(point detect.Signal) float64 {
	profile := defaultPulse
	if m := v.Home.Meters.At(point); m != nil {
		profile = m.Pulse
	}
	return v.Sensors.Meter(point).Pulse(profile)
}

// meterName is the name of the meter that the log follows.
func (v *View) meterName() string { return pointName(v.Leading) }

func pointName(point detect.Signal) string {
	switch point {
	case detect.ServiceFlow:
		return "service"
	case detect.DrainFlow:
		return "drain"
	}
	return "inlet"
}
