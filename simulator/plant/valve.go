package plant

import (
	"math/rand/v2"
	"time"

	"brinebell/detect"
)

// service is the piston's position outside a regeneration, and while a tank
// stands waiting for its brine.
const service detect.Phase = ""

// Times and powers of a motor-driven valve: common practice.
const (
	moveSeconds  = 20.0
	stallSeconds = 60.0 // until the electronics give up
	idleWatts    = 3.0
	motorWatts   = 9.0
	stallWatts   = 14.0

	// brineAhead is how long brine is left to strengthen when the refill comes
	// before the draw.
	brineAhead = 2 * time.Hour
)

// stage is one step of the programme as this valve runs it.
type stage struct {
	phase   detect.Phase
	seconds float64
	flow    float64 // L/min
}

// valve is the piston, its motor and the programme that moves it.
type valve struct {
	programme []stage
	running   bool
	at        int     // stage of the programme
	left      float64 // s of the stage
	position  detect.Phase
	flow      float64 // of the position, L/min
	motor     float64 // s that the motor still runs
	stalled   bool
	jam       float64 // probability that a move fails
	refill    float64 // refill time as set, over the programmed
	rng       *rand.Rand
}

// programme is the profile's cycle, with the refill and a wait in front where
// brine is made ahead.
func programme(s detect.Softener) []stage {
	var fill, rest []stage
	for _, c := range s.Cycle {
		st := stage{c.Phase, c.Duration.Seconds(), c.Flow}
		if s.RefillBefore && c.Phase == detect.Refill {
			fill = append(fill, st, stage{service, brineAhead.Seconds(), 0})
		} else {
			rest = append(rest, st)
		}
	}
	return append(fill, rest...)
}

// lead is how long before the regeneration hour the programme must begin.
func lead(s detect.Softener) time.Duration {
	if !s.RefillBefore {
		return 0
	}
	sum := brineAhead
	for _, c := range s.Cycle {
		if c.Phase == detect.Refill {
			sum += c.Duration
		}
	}
	return sum
}

// start begins the programme, if the drive moves and there is one.
func (v *valve) start() bool {
	if v.running || v.stalled || len(v.programme) == 0 {
		return false
	}
	v.at = 0
	v.running = v.move(v.programme[0])
	return v.running
}

// move turns the piston to a stage's position. A drive that fails leaves it
// where it was and the programme abandoned.
func (v *valve) move(to stage) bool {
	if v.jam > 0 && v.rng.Float64() < v.jam {
		v.stalled, v.running, v.motor = true, false, stallSeconds
		return false
	}
	v.motor = moveSeconds
	v.position, v.flow, v.left = to.phase, to.flow, to.seconds
	if to.phase == detect.Refill {
		v.left *= v.refill
	}
	return true
}

// advance runs the programme on by the given seconds, power being there, and
// says whether a phase ended, and which.
func (v *valve) advance(seconds float64) (ended detect.Phase, ok bool) {
	if v.motor > 0 {
		v.motor = max(0, v.motor-seconds)
	}
	if !v.running {
		return service, false
	}
	v.left -= seconds
	if v.left > 0 {
		return service, false
	}
	ended, late := v.position, v.left
	v.at++
	if v.at < len(v.programme) {
		if v.move(v.programme[v.at]) {
			v.left += late
		}
		return ended, true
	}
	if v.move(stage{phase: service}) {
		v.running = false
	}
	return ended, true
}

// repair frees the drive, and brings the piston home from where it was stuck.
func (v *valve) repair() {
	if v.stalled {
		v.stalled, v.running = false, false
		v.position, v.flow = service, 0
	}
}

func (v *valve) power() float64 {
	switch {
	case v.motor <= 0:
		return idleWatts
	case v.stalled:
		return stallWatts
	}
	return idleWatts + motorWatts
}
