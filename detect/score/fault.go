package score

import (
	"slices"

	"brinebell/detect"
)

// Share is a share with its exact interval.
type Share struct {
	Share float64 `json:"share"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Fault is how well one cause is found.
type Fault struct {
	Fault      detect.Cause `json:"fault"`
	Episodes   int          `json:"episodes"`
	Found      int          `json:"found"`
	Missed     int          `json:"missed"` // too late included
	Late       int          `json:"late"`   // of the missed, those found too late
	NotVisible int          `json:"not_visible"`
	Masked     int          `json:"masked"`
	Undecided  int          `json:"undecided"`
	Repeats    int          `json:"repeats"`
	// Recall is of found and missed; nil where there is neither. Median and Worst
	// are nil where nothing was found.
	Recall     *Share   `json:"found_share"`
	Median     *float64 `json:"median_delay_hours"`
	Worst      *float64 `json:"worst_delay_hours"`
	First      int      `json:"cause_first"`       // of the found, the fault ranked first
	FirstThree int      `json:"cause_first_three"` // among the first three
	// Smallest is the least severity from which nine in ten are found; 0 when
	// none is or too few episodes tell. Fit is the whole curve.
	Smallest float64 `json:"smallest_found,omitempty"`
	Fit      []Point `json:"fit,omitempty"`
}

// Point is the share found at a severity.
type Point struct {
	Severity float64 `json:"severity"`
	Share    float64 `json:"share"`
}

// faultsOf sums the episodes up per cause.
func faultsOf(all []Judged) []Fault {
	var faults []Fault
	for _, c := range detect.Causes() {
		var of []Judged
		for _, j := range all {
			if j.Fault == c {
				of = append(of, j)
			}
		}
		if len(of) > 0 {
			faults = append(faults, faultOf(c, of))
		}
	}
	return faults
}

func faultOf(c detect.Cause, of []Judged) Fault {
	f := Fault{Fault: c, Episodes: len(of)}
	var delays []float64
	for _, j := range of {
		f.count(j)
		if j.Outcome == Found {
			delays = append(delays, j.Delay)
		}
	}
	slices.Sort(delays)
	if n := len(delays); n > 0 {
		middle := median(delays)
		f.Median, f.Worst = &middle, &delays[n-1]
	}
	if n := f.Found + f.Missed; n > 0 {
		share := Exact(f.Found, n)
		f.Recall = &share
	}
	f.Fit = curve(of)
	f.Smallest = smallest(f.Fit, of)
	return f
}

func (f *Fault) count(j Judged) {
	f.Repeats += j.Repeats
	switch j.Outcome {
	case Found:
		f.Found++
		if j.Rank == 1 {
			f.First++
		}
		if j.Rank >= 1 && j.Rank <= 3 {
			f.FirstThree++
		}
	case Late:
		f.Late++
		f.Missed++
	case Missed:
		f.Missed++
	case NotVisible:
		f.NotVisible++
	case Masked:
		f.Masked++
	case Undecided:
		f.Undecided++
	}
}

// median of sorted numbers; 0 of none.
func median(sorted []float64) float64 {
	n := len(sorted)
	if n == 0 {
		return 0
	}
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
