package fault

import (
	"time"

	"brinebell/detect"
)

// Fault is one cause at work in one home from Start to End.
type Fault struct {
	Cause      detect.Cause
	Start, End time.Time
	Severity   float64       // full severity, 0 to 1
	Ramp       time.Duration // from nothing at Start to Severity; 0: at once
}

// Level is the severity at t: rising in a straight line over the ramp, then
// Severity until End, and 0 outside [Start, End).
func (f Fault) Level(t time.Time) float64 {
	if t.Before(f.Start) || !t.Before(f.End) {
		return 0
	}
	since := t.Sub(f.Start)
	if since >= f.Ramp {
		return f.Severity
	}
	return f.Severity * float64(since) / float64(f.Ramp)
}

// Active says whether the fault is present at t, however slightly.
func (f Fault) Active(t time.Time) bool {
	return !t.Before(f.Start) && t.Before(f.End)
}
