package score

import (
	"time"

	"brinebell/detect"
)

// Episode is one thing that was wrong at a home. Severity is the worst it came
// to, 0 to 1.
type Episode struct {
	Home     string       `json:"home"`
	Fault    detect.Cause `json:"fault"`
	Start    time.Time    `json:"start"`
	End      time.Time    `json:"end"`
	Severity float64      `json:"severity"`
}

// Exposure is a span in which a home was watched.
type Exposure struct {
	Home string
	From time.Time
	To   time.Time
}

// year is the Julian year of astronomy, 365.25 days.
const year = 365.25 * 24 * float64(time.Hour)

// Years is the length of the exposure in years.
func (e Exposure) Years() float64 { return float64(e.To.Sub(e.From)) / year }

// Sight is what the sensors of a home can see.
type Sight struct {
	Profile detect.Home
	// Signals that the home sends; nil when that is not known, and then every
	// fault is taken to be visible but for the meters of the profile.
	Signals []detect.Signal
}

// Input is all that is judged.
type Input struct {
	Episodes  []Episode
	Alerts    []detect.Alert // in their last states
	Exposures []Exposure
	Sights    []Sight
	// LeakFlow is the mean flow of a plumbing fault at a severity, L/min, and 0
	// for other causes. Without it every leak is taken to be visible.
	LeakFlow func(detect.Cause, float64) float64
	// Intn draws a whole number from 0 to n-1, for the bootstrap. Without it
	// rates have no intervals.
	Intn func(n int) int
}
