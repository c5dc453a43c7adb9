package household

import (
	"math"
	"math/rand/v2"

	"brinebell/detect"
)

// SaltHabit is how a household looks after its brine tank: it looks in every so
// many days and, when the salt stands low, pours in whole bags.
type SaltHabit struct {
	EveryDays int
	Minute    float64 // of the day at which it looks
	Bag       float64 // kg
	Low, Full float64 // share of the tank's height at which it pours, and to which
}

// drawSaltHabit draws a habit. Bags of 10, 20 and 25 kg are sold; common
// practice.
func drawSaltHabit(r *rand.Rand) SaltHabit {
	return SaltHabit{
		EveryDays: 3 + r.IntN(10),
		Minute:    between(r, 10*60, 20*60),
		Bag:       []float64{10, 20, 25}[pick(r, []float64{0.3, 0.2, 0.5})],
		Low:       between(r, 0.32, 0.5),
		Full:      between(r, 0.66, 0.85),
	}
}

// Density of rock salt's crystals, kg per litre: CRC Handbook, from memory.
const halite = 2.165

// Pour is how many kg the household pours in on the day, counted from any fixed
// day, when the salt stands at level mm.
func (s SaltHabit) Pour(day int, level float64, tank detect.BrineTank) float64 {
	if day%s.EveryDays != 0 || level > s.Low*tank.Height {
		return 0
	}
	area := math.Pi / 4 * tank.Diameter * tank.Diameter
	perMM := area * (1 - tank.SaltVoid) * halite / 1e6
	return s.Bag * max(1, math.Floor((s.Full*tank.Height-level)*perMM/s.Bag))
}
