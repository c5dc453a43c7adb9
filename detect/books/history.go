package books

import (
	"math"
	"slices"
)

// historySize is how many past regenerations a home is compared with: at one in
// six days a quarter of a year.
const historySize = 16

// enoughHistory is how many make a usual: fewer say nothing of the spread.
const enoughHistory = 4

// The gates. A value is in proportion within gateSigmas robust standard
// deviations of the median; a history that happens to agree too well is given at
// least gateShare of its median, which is what a 5 mm level sensor does to the
// brine of one dose. A young history takes what lies within youngShare of the
// programme. For a normal spread 4 sigma are 6 false refusals in 100,000.
const (
	gateSigmas = 4.0
	gateShare  = 0.15
	youngShare = 0.5
)

// madSigma brings a median absolute deviation to the standard deviation of a
// normal distribution: 1/0.6745.
const madSigma = 1.4826

// History is one quantity of the last regenerations that were in order.
type History struct {
	Values [historySize]float64
	Count  int // how many values hold
	Next   int // where the next one goes
}

// Usual is the median and the robust standard deviation of the past; both NaN
// before there are enough.
func (h *History) Usual() (median, sigma float64) {
	if h.Count < enoughHistory {
		return math.NaN(), math.NaN()
	}
	var work [historySize]float64
	values := work[:h.Count]
	copy(values, h.Values[:h.Count])
	median = medianOf(values)
	for i, v := range values {
		values[i] = math.Abs(v - median)
	}
	return median, max(madSigma*medianOf(values), gateShare*math.Abs(median)/gateSigmas)
}

// Learn adds v unless it is unknown or out of proportion to the past, or, while
// that is short, to what the programme expects (NaN: no opinion). It says
// whether v was taken.
func (h *History) Learn(v, programme float64) bool {
	if math.IsNaN(v) {
		return false
	}
	if median, sigma := h.Usual(); !math.IsNaN(median) {
		if math.Abs(v-median) > gateSigmas*sigma {
			return false
		}
	} else if programme > 0 && math.Abs(v-programme) > youngShare*programme {
		return false
	}
	h.Values[h.Next] = v
	h.Next = (h.Next + 1) % historySize
	h.Count = min(h.Count+1, historySize)
	return true
}

// medianOf sorts values in place and takes their median; NaN for none.
func medianOf(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	return (values[(n-1)/2] + values[n/2]) / 2
}
