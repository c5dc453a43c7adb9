package household

import "time"

// Typical is what the household draws at taps behind the softener on a day of
// June, L: what its water bills would tell an installer. bypassedGarden says
// that the garden is fed before the softener.
func Typical(h Household, bypassedGarden bool) float64 {
	const days = 28
	h.holidayMaking = false
	d := Play(h, time.Date(2025, time.June, 1, 0, 0, 0, 0, h.Location), bypassedGarden)
	litres := 0.0
	for range days {
		d.planDay()
		for _, u := range d.pending[d.next:] {
			if u.Fixture != Irrigation || !bypassedGarden {
				litres += u.Litres()
			}
		}
		d.next = len(d.pending)
	}
	return litres / days
}
