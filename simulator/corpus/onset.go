package corpus

import (
	"math/rand/v2"
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
)

// lasts is how long a fault lasts that does not wait for a repair; none for the
// others. A tap left open is found by whoever comes home.
func lasts(c detect.Cause) (least, most time.Duration) {
	const day = 24 * time.Hour
	switch c {
	case detect.FixtureLeftOpen:
		return 2 * time.Hour, 30 * time.Hour
	case detect.NoPower:
		return day, 14 * day
	case detect.AwayFromHome:
		return 3 * day, 20 * day
	}
	return 0, 0
}

// creeps is how long a fault may take to come to its full severity; none for
// what happens at once. Common practice: resin ages over years, of which a run
// can show the steepest weeks only.
func creeps(c detect.Cause) time.Duration {
	const day = 24 * time.Hour
	switch c {
	case detect.ResinFouled, detect.ResinSpent, detect.BedClogged:
		return 30 * day
	case detect.InjectorClogged, detect.SaltMush, detect.DrainRestricted, detect.MeterJammed, detect.UseGrew:
		return 14 * day
	case detect.FlapperLeak, detect.DrippingFixture, detect.SealsWorn, detect.BrineValveLeak, detect.BrineLineAir:
		return 7 * day
	}
	return 0
}

// place gives a dose its time in the run.
func (f *Faults) place(d Dose, r *rand.Rand, start time.Time, length time.Duration) fault.Fault {
	instant := func(share float64) time.Time {
		return start.Add(time.Duration(share * float64(length))).Truncate(time.Second)
	}
	out := fault.Fault{Cause: d.Cause, Severity: d.Severity}
	if drawn := f.Severity.draw(r.Float64()); out.Severity == 0 {
		out.Severity = drawn
	}
	out.Start, out.End = instant(f.Onset.draw(r.Float64())), instant(f.Repaired.draw(r.Float64()))
	if least, most := lasts(d.Cause); most > 0 {
		u := r.Float64()
		out.End = out.Start.Add(least + time.Duration(u*float64(most-least))).Truncate(time.Second)
	}
	if u := r.Float64(); u < float64(f.Gradual) {
		out.Ramp = min(creeps(d.Cause), out.End.Sub(out.Start)/3)
	}
	return out
}
