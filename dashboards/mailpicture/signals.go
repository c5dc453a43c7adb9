package mailpicture

import (
	"time"

	"brinebell/detect"
)

var names = map[detect.Signal]string{
	detect.InletFlow: "Water into the house", detect.ServiceFlow: "Water through the softener", detect.DrainFlow: "Water to the drain",
	detect.BrineLevel: "Level in the brine tank", detect.SaltLevel: "Top of the salt", detect.InletPressure: "Pressure before the softener",
	detect.OutletPressure: "Pressure after the softener", detect.ValvePower: "Power of the valve", detect.ColdHardness: "Hardness at the cold tap",
	detect.HotHardness: "Hardness at the hot tap", detect.SoftConductivity: "Conductivity after the softener", detect.FloorWet: "Wet floor",
}

// totals are the running totals of flows.
var totals = map[detect.Signal]detect.Signal{
	detect.InletFlow: detect.InletVolume, detect.ServiceFlow: detect.ServiceVolume, detect.DrainFlow: detect.DrainVolume,
}

// telling are the signals from which a finding comes, the most telling first.
func telling(a detect.Alert) []detect.Signal {
	switch a.Kind {
	case detect.NightLeak, detect.Burst, detect.MeterDead, detect.MeterSlow, detect.BypassOpen, detect.Stagnant:
		return []detect.Signal{detect.InletFlow, detect.ServiceFlow}
	case detect.DrainRunning, detect.RegenerationStuck, detect.RegenerationFrequent, detect.RegenerationMissed, detect.RegenerationMistimed:
		return []detect.Signal{detect.DrainFlow, detect.BrineLevel}
	case detect.SaltDrawLow, detect.SaltDrawHigh, detect.BrineHigh, detect.RinseShort, detect.SaltBridgeKind:
		return []detect.Signal{detect.BrineLevel, detect.DrainFlow}
	case detect.SaltLow, detect.SaltUseHigh, detect.SaltUseLow:
		return []detect.Signal{detect.SaltLevel, detect.BrineLevel}
	case detect.HardWater, detect.CapacityShort:
		return []detect.Signal{detect.ColdHardness, detect.HotHardness, detect.SoftConductivity}
	case detect.PressureLoss:
		return []detect.Signal{detect.OutletPressure}
	case detect.PowerLost:
		return []detect.Signal{detect.ValvePower}
	case detect.FloorWetKind:
		return []detect.Signal{detect.InletFlow, detect.FloorWet}
	}
	return nil // a sensor's silence is no picture
}

// around is the time that led to an alert: hours of what runs now, days of the
// rest, until now or a day after it was noticed.
func around(a detect.Alert, now time.Time) (from, to time.Time) {
	before, after := 3*24*time.Hour, 24*time.Hour
	switch a.Kind {
	case detect.Burst, detect.FloorWetKind, detect.PowerLost, detect.RegenerationStuck:
		before, after = 12*time.Hour, 6*time.Hour
	}
	to = a.Raised.Add(after)
	if now.Before(to) && now.After(a.Raised) {
		to = now
	}
	return a.Onset.Add(-before), to
}

// unitOf is the unit that a household reads a signal in, and how to bring a
// value to it.
func unitOf(s detect.Signal, u detect.Units) (unit string, in func(float64) float64) {
	if unit, ok := us[s.Dimension()]; ok && u == detect.US {
		return unit, func(v float64) float64 {
			out, err := detect.FromCanonical(v, unit, s.Dimension())
			if err != nil {
				return v // the table below names known units only; a test holds it to that
			}
			return out
		}
	}
	return s.Unit(), func(v float64) float64 { return v }
}

var us = map[detect.Dimension]string{detect.FlowRate: "gpm", detect.Length: "in", detect.Pressure: "psi", detect.Hardness: "gpg"}
