package corpus

import (
	"math/rand/v2"
	"time"

	"brinebell/simulator/fault"
)

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
	habit := fault.HabitOf(d.Cause)
	if habit.Most > 0 {
		u := r.Float64()
		out.End = out.Start.Add(habit.Least + time.Duration(u*float64(habit.Most-habit.Least))).Truncate(time.Second)
	}
	if u := r.Float64(); u < float64(f.Gradual) {
		out.Ramp = min(habit.Creeps, out.End.Sub(out.Start)/3)
	}
	return out
}
