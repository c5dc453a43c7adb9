package simulator

import (
	"math"
	"math/rand/v2"
	"time"
)

// weather is what comes down the street: the pressure of the main and the
// temperature of its water. Both are ordinary for a public supply in a
// temperate place; common practice.
type weather struct {
	r           *rand.Rand
	usual       float64 // kPa
	sway        float64 // kPa, of the neighbourhood's use
	chill       float64 // degC
	pressure    float64
	temperature float64
}

// weatherEvery is how often it changes.
const weatherEvery = 5 * time.Minute

func newWeather(r *rand.Rand) weather {
	return weather{r: r, usual: 340 + 160*r.Float64()}
}

// turn moves on by weatherEvery. The pressure is lowest when everybody is up:
// two dips of 20 kPa at half past seven and at seven in the evening.
func (w *weather) turn(local time.Time) {
	const memory = 0.95
	w.sway = float64(memory*w.sway) + float64(2*w.r.NormFloat64())
	w.chill = float64(0.999*w.chill) + float64(0.02*w.r.NormFloat64())
	hour := float64(local.Hour()) + float64(local.Minute())/60
	dip := 20 * (hump(hour-7.5) + hump(hour-19))
	w.pressure = math.Round((w.usual+w.sway-dip)*100) / 100
	year := float64(local.YearDay()-140) / 365 * 2 * math.Pi // warmest in August
	w.temperature = math.Round((12+float64(5*math.Sin(year))+w.chill)*1000) / 1000
}

// hump is 1 at nothing and falls to nothing over three hours.
func hump(hours float64) float64 {
	x := hours / 3
	return max(0, 1-float64(x*x))
}
