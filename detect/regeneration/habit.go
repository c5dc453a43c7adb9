package regeneration

import (
	"math"

	"brinebell/detect"
)

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

// expectation is one stage as it should come.
type expectation struct {
	stage         stage
	minutes, flow float64 // flow of the drain, or of the refill, L/min
	scatter       float64 // of the logarithm of minutes
	flowScatter   float64
}

// maxStages bounds the programme's length; a longer programme is cut.
const maxStages = 10

// template is the programme as a sequence of stages.
type template struct {
	steps [maxStages]expectation
	n     int
	early bool // refill comes first
}

func (t *template) add(e expectation) {
	if t.n < maxStages {
		t.steps[t.n] = e
		t.n++
	}
}

// dropRefill leaves the refill and its pause out.
func (t *template) dropRefill() {
	n := 0
	for _, e := range t.steps[:t.n] {
		if e.stage != refill && e.stage != pause {
			t.steps[n] = e
			n++
		}
	}
	t.n = n
}

// total is the expected length in minutes, without a pause.
func (t *template) total() float64 {
	sum := 0.0
	for _, e := range t.steps[:t.n] {
		if e.stage != pause {
			sum += e.minutes
		}
	}
	return sum
}

// minutes is the expected length of all stages of one kind.
func (t *template) minutes(s stage) float64 {
	sum := 0.0
	for _, e := range t.steps[:t.n] {
		if e.stage == s {
			sum += e.minutes
		}
	}
	return sum
}

// flow is the expected flow of a stage, 0 when the programme has none.
func (t *template) flow(s stage) float64 {
	for _, e := range t.steps[:t.n] {
		if e.stage == s {
			return e.flow
		}
	}
	return 0
}

// pauseMinutes is how long brine is commonly left to form between an early
// refill and the draw; common practice, no source. Its scatter covers none at
// all to several hours.
const (
	pauseMinutes = 60
	pauseScatter = 1.2
)

// newTemplate lays out the home's cycle with the refill early or late.
func newTemplate(s *detect.Softener, h *Habit, early bool) template {
	t := template{early: early}
	if early {
		t.add(expectStage(s, h, refill, detect.Refill))
		t.add(expectation{stage: pause, minutes: pauseMinutes, scatter: pauseScatter})
	}
	separate := lists(s, detect.SlowRinse)
	for _, p := range s.Cycle {
		switch p.Phase {
		case detect.Backwash:
			t.add(expect(h, backwash, p, 1, profileScatter))
		case detect.BrineDraw:
			if separate {
				t.add(expect(h, draw, p, 1, profileScatter))
			} else {
				t.add(expect(h, draw, p, 0.35, drawScatter))
				t.add(expect(h, slow, p, 0.65, drawScatter))
			}
		case detect.SlowRinse:
			t.add(expect(h, slow, p, 1, profileScatter))
		case detect.FastRinse:
			t.add(expect(h, fast, p, 1, profileScatter))
		}
	}
	if !early {
		t.add(expectStage(s, h, refill, detect.Refill))
	}
	return t
}

func lists(s *detect.Softener, phase detect.Phase) bool {
	for _, p := range s.Cycle {
		if p.Phase == phase {
			return true
		}
	}
	return false
}

// expectStage is expect for a phase that the programme may not list at all.
func expectStage(s *detect.Softener, h *Habit, st stage, phase detect.Phase) expectation {
	for _, p := range s.Cycle {
		if p.Phase == phase {
			return expect(h, st, p, 1, drawScatter)
		}
	}
	return expect(h, st, detect.ProgrammeStep{Flow: 1.5}, 1, drawScatter)
}

// learntEnough is how many regenerations make the home's own figures count in
// full.
const learntEnough = 3

// expect blends the programme's step with what the home has taught.
func expect(h *Habit, st stage, p detect.ProgrammeStep, share, scatter float64) expectation {
	minutes := max(p.Duration.Minutes()*share, 1)
	if p.Duration == 0 {
		minutes = 5
	}
	flow := max(p.Flow, 0.3)
	l := &h.Stages[st]
	w := min(l.N/learntEnough, 1)
	fw := min(l.FlowN/learntEnough, 1)
	return expectation{
		stage:       st,
		minutes:     math.Exp((1-w)*math.Log(minutes) + w*l.Minutes),
		scatter:     (1-w)*scatter + w*ownScatter,
		flow:        math.Exp((1-fw)*math.Log(flow) + fw*l.Drain),
		flowScatter: (1-fw)*profileScatter + fw*ownScatter,
	}
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
