package finding

import (
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

const (
	// lateScatter is how far, as a standard deviation of the logarithm, what the control
	// counts lies from what the books do; lateSlack and lateStop are k and h of the
	// cumulative sum. In control the share a night before is below all of the usable
	// capacity and falls short of it by half a day's use on average, so that the sum
	// hardly ever leaves zero.
	lateScatter, lateSlack, lateStop = 0.06, 0.3, 4.5
	// lateSettle is how many regenerations show the home's own offset, at most lateOffset.
	lateSettle, lateOffset = 4, 0.2
	// lateCalm is how many regenerations in time end it.
	lateCalm = 2
)

// lateness follows, for RegenerationMissedWatch, whether each regeneration of a
// control that waits for its hour comes a night or more later than its settings
// call for.
//
// Statistic: the share of the usable capacity that had been used up at the hour
// before the one at which it came, when the control did not act. By its settings
// that is below one, however much was drawn in the last day; a reserve or
// a hardness set lower lets it pass. The home's own most, in its first few, takes
// the place of one: meters and hardness are off by some percent.
type lateness struct {
	Share, Before float64 // at the last hour, and at the one before
	At            time.Time
	Top           float64 // logarithm of the home's own most
	Seen          int
	Sum           float64
	Row, Calm     int
	From          time.Time
	Standing      bool
}

// hour keeps the share at the control's hour.
func (l *lateness) hour(at time.Time, share float64) {
	if at.Sub(l.At) > 12*time.Hour {
		l.Before = l.Share
	}
	l.Share, l.At = share, at
}

// came takes in a regeneration that use brought on, and says whether the finding
// begins or ends with it.
func (l *lateness) came(start time.Time) (begins, ends bool) {
	share := l.Share
	if start.Sub(l.At) < 6*time.Hour { // the last hour is its own
		share = l.Before
	}
	l.Share, l.Before, l.At = 0, 0, time.Time{}
	if share <= 0 {
		return false, false
	}
	x := math.Log(share)
	if l.Seen < lateSettle {
		l.Seen++
		l.Top = math.Max(l.Top, math.Min(x, lateOffset))
		return false, false
	}
	z := (x - l.Top) / lateScatter
	before := l.Sum
	l.Sum = math.Min(math.Max(0, l.Sum+math.Min(z, 4)-lateSlack), 2*lateStop)
	switch {
	case l.Sum == 0:
		l.Row = 0
	case before == 0:
		l.Row, l.From = 1, start
	default:
		l.Row++
	}
	if l.Standing {
		if l.Calm++; z > 1 {
			l.Calm = 0
		}
		ends = l.Calm >= lateCalm
		if ends {
			l.Standing, l.Sum, l.Row = false, 0, 0
		}
		return false, ends
	}
	if l.Sum >= lateStop && l.Row >= 2 && z > 1 {
		l.Standing, l.Calm = true, 0
		return true, false
	}
	return false, false
}

// verdict says that regenerations come later than set.
func (l *lateness) verdict(v *View, share float64) *Verdict {
	e := detect.Evidence{"sign": "late each time", "due_by": "use", "regenerations": l.Row}
	putShare(e, "capacity_used_share", share)
	putShare(e, "largest_before_share", math.Exp(l.Top))
	return &Verdict{Kind: detect.RegenerationMissed, Standing: true, Severity: detect.Plan, Onset: l.From, Evidence: e,
		Summary: fmt.Sprintf("The last %d regenerations came later than the softener's settings call for, at %.0f %% of the capacity that they leave for use: its reserve or hardness may have been set lower. The water can be hard on the last day.", l.Row, 100*share)}
}
