package regeneration

import (
	"time"

	"brinebell/detect"
)

// Phase is one recognised part of a regeneration. A volume that the home's
// sensors do not show is NaN.
type Phase struct {
	Name        detect.Phase
	Start       time.Time
	Duration    time.Duration
	DrainLitres float64 // to the drain during the phase
	BrineLitres float64 // out of (positive) or into (negative) the brine tank
}

// Ending says how a regeneration ended.
type Ending string

// The endings.
const (
	Completed  Ending = "completed"
	CutShort   Ending = "cut_short"   // it stopped in mid-cycle, as after a power loss
	NeverEnded Ending = "never_ended" // it went on far beyond its programme
)

// Record is one recognised regeneration. Volumes that the home's sensors do
// not show are NaN.
type Record struct {
	Start, End   time.Time
	Phases       []Phase
	Ending       Ending
	Manual       bool          // at another hour than the programme's
	Confidence   float64       // probability that this was a regeneration, 0 to 1
	BrineLitres  float64       // brine drawn into the bed
	DrawMinutes  float64       // for how long brine left the tank; 0 when none did
	RefillLitres float64       // water put back into the brine tank
	RefillSeen   float64       // the same as a meter before the valve saw it, where RefillLitres comes from the level
	DrainLitres  float64       // all water to the drain
	LevelStart   float64       // brine level before it began, mm
	LevelLowest  float64       // brine level at the end of the draw, mm
	LevelEnd     float64       // brine level after the refill, mm
	StartError   time.Duration // stated uncertainty of Start, one standard deviation
	Odds         Odds          // what each witness adds to Confidence
	RunningDrain float64       // L/min that ran to the drain before it began; part of DrainLitres
}
