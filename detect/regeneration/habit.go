package regeneration

import "math"

// stage is what the softener does in a stretch of the lattice. Draw is the part
// of the brine draw in which the level falls; slow the rinse that follows it,
// whether the programme lists it or not.
type stage uint8

const (
	before stage = iota
	backwash
	draw
	slow
	fast
	refill
	pause // between an early refill and the backwash, while the brine forms
	after
	numStages
)

// The scatter allowed about what is expected, as standard deviations of the
// logarithm. A profile is often the factory's default, so its figures may be
// off by half; a home's own cycle repeats itself, but for pressure and sensors.
const (
	profileScatter = 0.5
	ownScatter     = 0.22
	drawScatter    = 0.7 // how the brine draw divides into draw and slow rinse nobody programs
)

// Learnt is one stage's own figures, learnt from confident regenerations.
type Learnt struct {
	N            float64 // how many taught it
	Minutes      float64 // mean of the logarithm
	FlowN, Drain float64 // as above, for the drain's L/min
}

// Habit is what a home has taught about its own regenerations.
type Habit struct {
	Stages [numStages]Learnt
	Hour   float64 // minutes after local midnight at which they start
	HourN  float64
	Early  float64 // share of cycles in which the refill came first
	EarlyN float64
	Rise   float64 // how far a refill lifts the brine, mean of the logarithm of mm
	RiseN  float64
}

// learn moves a running mean towards x; the first few count in full, later
// ones keep a memory of about ten.
func learn(mean, n *float64, x float64) {
	*n++
	*mean += (x - *mean) / min(*n, 10)
}

// hourStep is how many minutes one regeneration may move the usual hour: a
// start by hand at noon says nothing of the clock.
const hourStep = 30

// learnHour is learn on the circle of a day, from the programme's hour on.
func (h *Habit) learnHour(minuteOfDay, programmed float64) {
	if h.HourN == 0 {
		h.Hour, h.HourN = programmed, 1
	}
	h.HourN++
	d := hourDistance(minuteOfDay, h.Hour) / min(h.HourN, 4)
	h.Hour = math.Mod(h.Hour+min(max(d, -hourStep), hourStep)+1440, 1440)
}

// hourDistance is a-b on the circle of a day, in minutes, -720 to 720.
func hourDistance(a, b float64) float64 {
	return math.Mod(a-b+720+1440, 1440) - 720
}
