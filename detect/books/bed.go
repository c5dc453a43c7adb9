package books

import (
	"math"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// BedBook is what the resin was given and has taken up since.
type BedBook struct {
	Restored  float64 // eq the bed could take up after the last regeneration; NaN before one is seen
	Assumed   bool    // that rests on the programme's salt, not on a measured one
	Standby   float64 // alternating tanks: eq waiting in the tank out of service; NaN not known
	Litres    float64 // through the bed since then
	Removed   float64 // eq taken up since then
	LastStart int64   // Unix second at which the last regeneration began; 0 none
	LastEnd   int64   // Unix second at which it ended
	Known     int64   // minutes since then with known water
}

// take books one minute's litres at a hardness in mg/L.
func (b *BedBook) take(litres, hardness float64) {
	b.Litres += litres
	b.Removed += resin.Equivalents(litres, hardness)
	b.Known++
}

// seen is the share of the minutes from the last regeneration to Unix second now
// with known water.
func (b *BedBook) seen(now int64) float64 {
	if minutes := float64(now+60-b.LastEnd) / 60; minutes > 1 {
		return min(1, float64(b.Known)/minutes)
	}
	return 1
}

// left is the eq the bed can still take up at Unix second now; NaN when nobody
// knows, because no regeneration or too little of the water since was seen. With
// some minutes missing it is what is left at most.
func (b *BedBook) left(now int64) float64 {
	if b.seen(now) < enoughSeen {
		return math.NaN()
	}
	return max(0, b.Restored-b.Removed)
}

// enoughSeen is the share of the time since the last regeneration below which
// the water seen says nothing of the capacity left.
const enoughSeen = 0.5

// regenerate books a regeneration with kg of salt that found left eq; since is
// the litres and minutes that have passed since its end.
func (b *BedBook) regenerate(s detect.Softener, kg, left float64, start, end int64, since float64, minutes int, hardness float64) {
	if math.IsNaN(left) {
		left = 0 // nobody knows; a bed that asked for salt had little
	}
	after := resin.After(s.Salt, s.Resin, kg, left)
	if s.Alternating {
		waiting := b.Standby
		if math.IsNaN(waiting) {
			waiting = after // its own regeneration was before our time: taken alike
		}
		after, b.Standby = waiting, after // the tank that waited takes over
	}
	b.Restored, b.LastStart, b.LastEnd = after, start, end
	b.Litres, b.Removed, b.Known = since, resin.Equivalents(since, hardness), int64(minutes)
}
