package finding

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"
)

// quietest finds the window of n minutes with the least water among flows, one
// value a minute, in which at most a tenth is unknown. Its start is -1 when
// there is none. Litres are scaled up for what is unknown.
func quietest(flows []float32, n int) (start int, litres float64) {
	start, litres = -1, math.Inf(1)
	var w tally
	for i, f := range flows {
		w.add(f, 1)
		if i >= n {
			w.add(flows[i-n], -1)
		}
		if i >= n-1 && w.known*10 >= n*9 {
			if l := w.litres * float64(n) / float64(w.known); l < litres-1e-6 {
				start, litres = i-n+1, math.Max(l, 0)
			}
		}
	}
	return start, litres
}

// lastDry is the end of the last window of n minutes that passed less than
// limit litres, as an index into flows; -1 when there is none. At most a tenth
// of the window may be unknown.
func lastDry(flows []float32, n int, limit float64) int {
	if len(flows) < n {
		return -1
	}
	var w tally
	for _, f := range flows[len(flows)-n:] {
		w.add(f, 1)
	}
	for end := len(flows); ; end-- {
		if w.litres < limit && w.known*10 >= n*9 {
			return end
		}
		if end == n {
			return -1
		}
		w.add(flows[end-1], -1)
		w.add(flows[end-1-n], 1)
	}
}

// tally is the water and the known minutes of a window.
type tally struct {
	litres float64
	known  int
}

// add takes a minute in, or out with sign -1.
func (w *tally) add(flow float32, sign int) {
	if flow == flow {
		w.litres += float64(sign) * float64(flow)
		w.known += sign
	}
}

// pouring is one unbroken stretch of water within a quiet window.
type pouring struct {
	at     int // minute of its start
	litres float64
	length int // minutes
}

// pourings splits a window into stretches of water; unknown minutes count as
// dry, for at most a tenth of a window is unknown.
func pourings(flows []float32) []pouring {
	var found []pouring
	wet := false
	for i, f := range flows {
		if !(f > 0) {
			wet = false
			continue
		}
		if !wet {
			found = append(found, pouring{at: i})
		}
		last := &found[len(found)-1]
		last.litres += float64(f)
		last.length++
		wet = true
	}
	return found
}

// Pattern is how water that never stops comes.
type Pattern string

// The patterns.
const (
	Steady    Pattern = "steady"
	Refilling Pattern = "refilling" // like portions at like intervals
	Pulsing   Pattern = "pulsing"   // neither
)

// leakShape is the size and pattern of the water in a quiet window.
type leakShape struct {
	rate    float64 // L/min
	pattern Pattern
	portion float64       // litres a time, when refilling
	every   time.Duration // between portions, when refilling
	clear   bool          // enough water to measure by
	regular bool          // as only a leak comes, not as people draw
}

// shapeOf measures a window of a leak. From the first portion to the last, the
// water of all but the last one has filled the time between: that is free of
// where the window's edges fall, which matters when a litre pulse comes every
// half hour.
func shapeOf(flows []float32, pulse float64) leakShape {
	ps := pourings(flows)
	total, wet := 0.0, 0
	for _, p := range ps {
		total += p.litres
		wet += p.length
	}
	s := leakShape{rate: total / float64(len(flows)), pattern: Steady}
	s.clear = len(ps) >= 4 || wet*2 > len(flows)
	if n := len(ps); n >= 3 {
		s.rate = (total - ps[n-1].litres) / float64(ps[n-1].at-ps[0].at)
	}
	// Water in nearly every minute is steady, whatever the meter.
	if float64(wet) >= 0.8*float64(len(flows)) || len(ps) < 3 {
		s.regular = s.clear
		return s
	}
	portions, gaps := make([]float64, len(ps)), make([]float64, len(ps)-1)
	for i, p := range ps {
		portions[i] = p.litres
		if i > 0 {
			gaps[i-1] = float64(p.at - ps[i-1].at)
		}
	}
	slices.Sort(portions)
	s.portion = stat.Quantile(0.5, stat.Empirical, portions, nil)
	s.every = time.Duration(stat.Mean(gaps, nil) * float64(time.Minute))
	uneven := stat.StdDev(gaps, nil) / stat.Mean(gaps, nil)
	alike := portions[len(portions)-1] <= 1.4*s.portion+pulse && portions[0] >= 0.6*s.portion-pulse
	coarse := s.portion < 2.5*pulse
	if len(ps) >= manyPortions && evenBlocks(flows) {
		// Too quick for minutes to part one portion from the next.
		s.regular = true
		if !coarse || uneven >= evenMany {
			s.pattern = Refilling
		}
		return s
	}
	switch {
	case coarse && uneven < evenSteady:
		// Single pulses at even intervals: a meter too coarse to show anything
		// but steady water as anything else.
		s.portion, s.every = 0, 0
		s.regular = len(ps) >= enoughPulses
	case alike && uneven < evenRefills:
		s.pattern = Refilling
		s.regular = s.portion <= largestRefill && (len(ps) >= enoughPulses || !coarse && uneven < evenSteady)
	default:
		s.pattern, s.every = Pulsing, 0
	}
	return s
}

const (
	// evenSteady and evenRefills are the largest ratios of the standard
	// deviation to the mean of the intervals between pulses of a steady
	// trickle, and between refills. Refills of 0.8 pulses every quarter of an
	// hour show as intervals of one and two quarters: a ratio of 0.4. People
	// draw water with a ratio about 1.
	evenSteady, evenRefills = 0.2, 0.45
	// enoughPulses is how many pulses must show the regularity.
	enoughPulses = 6
	// manyPortions is how many make the sums over blocks of a window a test by
	// themselves; evenMany parts pulses of a steady trickle from refills then.
	manyPortions = 36
	evenMany     = 0.5
	// blocks is into how many a window is cut, evenVolume the largest ratio of
	// the standard deviation to the mean of their volumes.
	blocks     = 6
	evenVolume = 0.2
	// largestRefill is more than a cistern takes before its valve shuts again, L:
	// a whole flush is larger, and people flush in the night.
	largestRefill = 4.0
)

// evenBlocks says whether water is spread evenly over the window, as people
// never do.
func evenBlocks(flows []float32) bool {
	var sums [blocks]float64
	for i, f := range flows {
		if f == f {
			sums[i*blocks/len(flows)] += float64(f)
		}
	}
	return stat.StdDev(sums[:], nil) < evenVolume*stat.Mean(sums[:], nil)
}
