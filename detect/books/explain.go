package books

import (
	"brinebell/detect"
	"brinebell/detect/resin"
)

// Explains is how much of the salt of the last four weeks' whole cycles the water
// used in them explains at the settings.
type Explains struct {
	OK        bool   `json:"ok"`
	Used      Number `json:"used_kg"`
	Explained Number `json:"explained_kg"`
	Share     Number `json:"share"` // at most 1
}

// Explains sets the salt of the last four weeks' whole cycles beside what the
// water used in them calls for at the settings: one dose each time the use has
// passed the usable capacity, and where the control waits for its hour half a
// day's use more; no fewer than the override brings. Unknown with fewer than two
// whole cycles, or with known water on fewer than ten of their days.
func (l *Ledger) Explains() Explains {
	c := l.cycles(usualSpan)
	if c.doses < 2 || c.seen < 10 || c.salt <= 0 {
		return Explains{Used: Unknown(), Explained: Unknown(), Share: Unknown()}
	}
	explained := l.dosesFor(c.through/c.days) * c.days * l.home.Softener.SaltDose
	return Explains{OK: true, Used: Number(c.salt), Explained: Number(explained), Share: Number(min(1, explained/c.salt))}
}

// dosesFor is the regenerations a day that litres a day call for at the settings.
func (l *Ledger) dosesFor(litres float64) float64 {
	s := l.home.Softener
	least := 0.0
	if s.DaysOverride > 0 {
		least = 1 / float64(s.DaysOverride)
	}
	if s.Control == detect.Timed {
		return least
	}
	daily := resin.Equivalents(litres, l.RawHardness())
	per, most := s.Capacity*s.Resin, mostAtOnce
	if s.Control == detect.MeteredDelayed {
		per, most = min(per, per*(1-s.Reserve)+daily/2), 1
	}
	return max(least, min(most, daily/per))
}

// mostAtOnce is how many regenerations a day a control that does not wait can come
// to: each takes an hour or two, and its brine as long to form. One that waits for
// its hour comes to one.
const mostAtOnce = 5.0
