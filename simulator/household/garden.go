package household

import (
	"math/rand/v2"
	"time"
)

// Zone is one part of a garden that a clock waters.
type Zone struct{ Minutes, Flow float64 }

// Garden is how a garden is watered. Without zones it is by hand, in the
// evening.
type Garden struct {
	EveryDays int
	StartAt   float64 // minute of the day
	Zones     []Zone
	HandFlow  float64
	From, To  time.Month // watered from the one to the other, both included
}

func drawGarden(r *rand.Rand, p Population) *Garden {
	timed, hand := chance(r, p.TimedIrrigation), chance(r, p.HandWatering)
	g := &Garden{From: time.April + time.Month(r.IntN(2)), To: time.September + time.Month(r.IntN(2)), HandFlow: between(r, 8, 16)}
	if timed {
		g.EveryDays = 1 + r.IntN(3)
		g.StartAt = round(between(r, 0, 6*60), 15)
		if chance(r, 0.2) {
			g.StartAt = round(between(r, 20*60, 23*60), 15)
		}
		g.Zones = drawZones(r)
		return g
	}
	if hand {
		return g
	}
	return nil
}

// drawZones draws one kind of sprinkler for several zones, from a few nozzles on
// thin pipe to a large lawn's, and now and then a drip line, alone or after them:
// an hour or so of a flow like a tap's.
func drawZones(r *rand.Rand) []Zone {
	const drip, alone = 0.35, 0.5
	var zones []Zone
	if dripping := chance(r, drip); dripping {
		zones = append(zones, Zone{round(between(r, 30, 90), 5), between(r, 1, 5)})
		if chance(r, alone) {
			return zones
		}
	}
	flow := min(90, 9+r.ExpFloat64()*22)
	for range 2 + r.IntN(5) {
		zones = append(zones, Zone{round(between(r, 8, 25), 1), flow * between(r, 0.8, 1.1)})
	}
	return zones
}

// rainy is the chance that a day's watering is left out.
const rainy = 0.25

// water appends the day's watering.
func (g *Garden) water(d *day) {
	if m := d.date.Month(); m < g.From || m > g.To || chance(d.r, rainy) {
		return
	}
	if len(g.Zones) == 0 {
		if chance(d.r, 0.35) {
			d.use(Irrigation, between(d.r, 18*60, 21*60), g.HandFlow*between(d.r, 8, 30), g.HandFlow)
		}
		return
	}
	if d.date.YearDay()%g.EveryDays != 0 {
		return
	}
	at := g.StartAt
	for _, z := range g.Zones {
		d.use(Irrigation, at, z.Flow*z.Minutes, z.Flow)
		at += z.Minutes + 0.2
	}
}

// fillPool appends the filling of a pool: on one day in May, from the morning
// until late at night.
func fillPool(d *day, seed uint64) {
	if d.date.Month() == time.May && d.date.Day() == 5+int(seed%20) {
		d.use(Irrigation, 10*60, 14*60*between(d.r, 11, 15), 13)
	}
}
