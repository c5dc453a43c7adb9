package sequential

import "math"

// Least is the least mean delay, in observations, that any test can have after
// a shift of δ standard deviations when it waits runLength observations for a
// false alarm: with I = δ²/2, the v that solves runLength = (e^v - v - 1)/I
// gives (v + e^-v - 1)/I. It holds for continuous observation; a discrete test
// comes within a few percent.
//
// Source: Moustakides, Annals of Statistics 14, 1379 (1986), who shows the CUSUM
// optimal; formula from memory.
func Least(shift, runLength float64) float64 {
	info := shift * shift / 2
	low, high := 0.0, 1.0
	wait := func(v float64) float64 { return (math.Expm1(v) - v) / info }
	for wait(high) < runLength {
		high *= 2
	}
	for range 60 {
		if mid := (low + high) / 2; wait(mid) < runLength {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + math.Expm1(-low)) / info
}
