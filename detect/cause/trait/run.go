package trait

import (
	"math"

	"brinebell/detect"
)

// Keys of the water's hardness after the softener, over that before it.
const (
	SoftFloor = "softest_share" // at its softest since a regeneration
	SoftPeak  = "hardest_share" // at its hardest
)

const (
	// block is how many minutes are taken together, settle how many after a
	// regeneration are let pass: its water stands in the pipes.
	block, settle = 180, 120
	// leastBlocks is how many blocks make a run.
	leastBlocks = 4
	// leastReadings is how many readings make a block: a probe may speak twice an hour.
	leastReadings = 2
)

// Run follows the hardness at the cold tap from one regeneration to the next. Hard
// from the first litre, water slips past or the resin is slow; soft first and hard
// later, its capacity is short. The run before is told until this one has lasted
// as long as it needs to.
type Run struct {
	Minutes   int     // since the regeneration
	Sum       float64 // of the present block's readings, shares of raw
	N         int
	Low, High float64 // of whole blocks
	Blocks    int
	WasLow    float64 // of the run before
	WasHigh   float64
	WasKnown  bool
}

// Hear takes in a minute: the hardness at the cold tap, NaN without a reading, and
// before the softener.
func (r *Run) Hear(cold, raw float64, regenerating bool) {
	if regenerating {
		r.end()
		return
	}
	if r.Minutes++; r.Minutes <= settle {
		return
	}
	if cold == cold && raw > 0 {
		r.Sum, r.N = r.Sum+cold/raw, r.N+1
	}
	if r.Minutes%block != 0 {
		return
	}
	if r.N >= leastReadings {
		mean := r.Sum / float64(r.N)
		if r.Blocks == 0 {
			r.Low, r.High = mean, mean
		}
		r.Low, r.High = math.Min(r.Low, mean), math.Max(r.High, mean)
		r.Blocks++
	}
	r.Sum, r.N = 0, 0
}

// end closes the run.
func (r *Run) end() {
	if r.Minutes == 0 {
		return
	}
	next := Run{WasLow: r.WasLow, WasHigh: r.WasHigh, WasKnown: r.WasKnown}
	if r.Blocks >= leastBlocks {
		next.WasLow, next.WasHigh, next.WasKnown = r.Low, r.High, true
	}
	*r = next
}

// put tells the softest of the newest run that is long enough, and the hardest of
// it and the one before: a run that is not over may still turn hard. since says
// that this run began after what is asked about did, whole that the one before did
// too; else the softest of it, or all of it, tell of before.
func (r *Run) put(e detect.Evidence, since, whole bool) {
	low, high, known := r.WasLow, r.WasHigh, r.WasKnown && whole
	if r.Blocks >= leastBlocks {
		if low = r.Low; !known || r.High > high {
			high = r.High
		}
		known = true
	}
	if !known {
		return
	}
	e[SoftPeak] = math.Round(high*1000) / 1000
	if since {
		e[SoftFloor] = math.Round(low*1000) / 1000
	}
}
