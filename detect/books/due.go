package books

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// Due is the next regeneration, as the valve's settings and the home's usual use
// have it.
type Due struct {
	OK    bool      `json:"ok"`
	At    time.Time `json:"at,omitzero"`
	Hours Number    `json:"hours"` // from the last minute
	Why   DueReason `json:"why"`
}

// DueReason names what will bring a regeneration on.
type DueReason string

// What brings a regeneration on.
const (
	DueByUse      DueReason = "use"      // capacity will be down to the reserve
	DueByOverride DueReason = "override" // the most days between regenerations
	DueByInterval DueReason = "interval" // a timed control's
)

// mostNights bounds the walk ahead: an override that no valve offers.
const mostNights = 100

// NextDue walks night by night until the control would regenerate. Nothing is
// known before a regeneration was seen, and a metered control needs the home's
// usual use unless its override is sure to come first.
func (l *Ledger) NextDue() Due {
	s := l.home.Softener
	if l.Bed.LastStart == 0 || l.Last == 0 {
		return Due{Hours: Unknown()}
	}
	use := l.Use()
	if s.Control == detect.MeteredImmediate {
		if d, ok := l.dueAtOnce(use); ok {
			return d
		}
	}
	usable := math.Inf(1)
	if s.Control == detect.MeteredDelayed {
		usable = s.Capacity * s.Resin * (1 - s.Reserve)
	}
	return l.dueAtNight(use, usable)
}

// dueAtNight is the first regeneration hour at which the use since the last
// regeneration has passed usable eq, or the override has come.
func (l *Ledger) dueAtNight(use resin.Use, usable float64) Due {
	now := time.Unix(l.Last, 0).In(l.home.Location)
	removed, hardness := l.Bed.Removed, l.RawHardness()
	at, from := l.regenerationHour(now, 0), now
	for night := 1; night <= mostNights; night++ {
		if at.After(now) {
			removed += resin.Equivalents(l.expectedUse(use, from, at), hardness)
			from = at
			if math.IsNaN(removed) && !math.IsInf(usable, 1) {
				break
			}
			if why, yes := l.dueBy(at, removed, usable); yes {
				return l.due(at, why)
			}
		}
		at = l.regenerationHour(now, night)
	}
	return Due{Hours: Unknown()}
}

// dueBy says whether and why the control regenerates at a night's hour.
func (l *Ledger) dueBy(at time.Time, removed, usable float64) (DueReason, bool) {
	s := l.home.Softener
	if removed >= usable {
		return DueByUse, true
	}
	days := l.dayOf(at) - l.lastRegenerationDay()
	if s.DaysOverride == 0 || days < int32(s.DaysOverride) {
		return "", false
	}
	if s.Control == detect.Timed {
		return DueByInterval, true
	}
	return DueByOverride, true
}

// dueAtOnce is when a control that does not wait runs out of capacity, by the
// usual use; false when the override comes first.
func (l *Ledger) dueAtOnce(use resin.Use) (Due, bool) {
	s := l.home.Softener
	left := s.Capacity*s.Resin - l.Bed.Removed
	per := resin.Equivalents(use.Daily(), l.RawHardness())
	days := max(0, left/per)
	if math.IsNaN(days) {
		return Due{Hours: Unknown()}, true
	}
	if s.DaysOverride > 0 && days > float64(s.DaysOverride) {
		return Due{}, false // the override comes first
	}
	return l.due(l.after(days), DueByUse), true
}

func (l *Ledger) due(at time.Time, why DueReason) Due {
	return Due{OK: true, At: at, Hours: Number(at.Sub(time.Unix(l.Last, 0)).Hours()), Why: why}
}

// regenerationHour is the set hour on the day so many days after now's.
func (l *Ledger) regenerationHour(now time.Time, days int) time.Time {
	y, m, d := now.Date()
	minutes := int(l.home.Softener.RegenerationTime.Minutes())
	return time.Date(y, m, d+days, 0, minutes, 0, 0, l.home.Location)
}

// expectedUse is the litres from one time to another by the usual use of the
// weekday they begin on; NaN when that is not known.
func (l *Ledger) expectedUse(use resin.Use, from, to time.Time) float64 {
	daily := use.Weekday[from.Weekday()]
	if math.IsNaN(daily) {
		daily = use.Daily()
	}
	return daily * to.Sub(from).Hours() / 24
}
