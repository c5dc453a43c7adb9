package finding

import "math"

const (
	// patchyPulses is how many pulses of either meter a minute must hold to be
	// compared, and patchyMinutes how many such minutes say something.
	patchyPulses, patchyMinutes = 3, 15
	// patchyLeast and patchyMost are the shares seen between which losing all
	// water now and then differs from losing some of it always.
	patchyLeast, patchyMost = 0.07, 0.93
)

// Patchy tells a meter that loses some water all the time, as a stiff wheel does,
// from one that loses all of it for a while and nothing for a while, as a plug
// with poor contact does. It is the variance of the minutes' ratio of two meters,
// weighed by their water, over the largest that such a mean allows: 0 to 1.
type Patchy struct {
	Water, Seen, Square, Coarse float64 // sums: L, L, seen^2/water, pulses' share of that
	Minutes                     int
}

// add takes in a minute's litres at the meter that sees all and at the other,
// whose pulses are of a and b litres.
func (p *Patchy) add(in, soft, a, b float64) {
	if in <= 0 || in < patchyPulses*math.Max(a, b) {
		return
	}
	p.Water, p.Seen, p.Square = p.Water+in, p.Seen+soft, p.Square+soft*soft/in
	p.Coarse += (a*a + b*b) / 6 / in // two uniform errors a reading, of a pulse each
	p.Minutes++
}

// share is how patchy it was; ok is false where too little was seen to tell.
func (p *Patchy) share() (v float64, ok bool) {
	r := p.Seen / math.Max(p.Water, 1)
	if p.Minutes < patchyMinutes || r < patchyLeast || r > patchyMost {
		return 0, false
	}
	return math.Max(0, math.Min((p.Square-p.Coarse)/p.Water-r*r, r*(1-r))) / (r * (1 - r)), true
}
