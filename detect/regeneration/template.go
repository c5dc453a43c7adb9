package regeneration

import (
	"math"

	"brinebell/detect"
)

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
