package finding

import "math"

const (
	// patchyPulses is how many pulses of either meter a minute must hold to be
	// compared, and patchyMinutes how many such minutes say something.
	patchyPulses, patchyMinutes = 3, 15
	// patchyLitres is the water over which a meter's share is taken as one: a wheel
	// that slows from day to day is not patchy.
	patchyLitres = 100.0
	// patchyLeast and patchyMost are the shares seen between which losing all
	// water now and then differs from losing some of it always: what a sound meter
	// misses of small flows is patchy too.
	patchyLeast, patchyMost = 0.07, 0.8
)

// Patchy tells a meter that loses some water all the time, as a stiff wheel does,
// from one that loses all of it for a while and nothing for a while, as a plug
// with poor contact does. It is the variance of the minutes' ratio of two meters,
// weighed by their water, over the largest that such a mean allows: 0 to 1.
type Patchy struct {
	Water, Seen, Square, Coarse float64 // sums of a stretch: L, L, seen^2/water, pulses' share of that
	Ran                         int     // minutes in it
	Varied, Could               float64 // sums over stretches: variance, and the largest it could be, times water
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
	if p.Ran++; p.Water >= patchyLitres {
		p.fold()
	}
}

// fold ends a stretch.
func (p *Patchy) fold() {
	if r := p.Seen / p.Water; r > patchyLeast && r < patchyMost {
		p.Varied += math.Max(0, p.Square-p.Coarse-r*p.Seen)
		p.Could += r * (1 - r) * p.Water
		p.Minutes += p.Ran
	}
	p.Water, p.Seen, p.Square, p.Coarse, p.Ran = 0, 0, 0, 0, 0
}

// share is how patchy it was; ok is false where too little was seen to tell.
func (p *Patchy) share() (v float64, ok bool) {
	if p.Minutes < patchyMinutes || p.Could == 0 {
		return 0, false
	}
	return math.Min(p.Varied/p.Could, 1), true
}
