package regeneration

import (
	"math"
	"math/rand/v2"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// plant is a home made up for the tests. It steps ten seconds at a time and
// shares no formula with the recogniser: its tank is a plain cylinder with
// pores, its phases, flows and household are drawn at random.
type plant struct {
	rng   *rand.Rand
	home  detect.Home
	truth []truth
	seed  uint64
	sets  sensors

	// the softener as it really is
	phases    []truePhase
	brine     float64 // L drawn when all is well
	drawRate  float64 // L/min of brine
	volume    float64 // L in the brine tank
	areaPores float64 // L per mm
	offset    float64 // mm: heel below the pickup

	noise, drift float64 // of the level sensor, mm
	leak         float64 // of a flapper, upstream, L/min
	drainLeak    float64 // L/min, now
	idleWatts    float64
	skewHour     float64 // minutes between the set and the true hour
}

// sensors says what the home has and how it samples.
type sensors struct {
	drain, level, power, service, inlet bool
	every                               int // seconds
}

// truePhase is one phase as it really comes.
type truePhase struct {
	phase   detect.Phase
	seconds float64
	flow    float64
}

// truth is one regeneration as it happened.
type truth struct {
	start, end           time.Time
	brine, drain, refill float64
	lost                 float64 // minutes of it that no sensor reported
	leak                 float64 // L/min down the drain besides
	cut                  bool
	undrawn              bool
	stuck                bool
}

func lognormal(rng *rand.Rand, sd float64) float64 {
	return math.Exp(min(max(rng.NormFloat64(), -2), 2) * sd)
}

// newPlant draws a home. Its profile is the default; the softener is not.
func newPlant(seed uint64, s sensors) *plant {
	rng := rand.New(rand.NewPCG(seed, 77))
	p := &plant{seed: seed, rng: rng, sets: s, home: detect.DefaultHome("plant", time.UTC)}
	low := 1.9 * lognormal(rng, 0.35)
	high := max(8*lognormal(rng, 0.3), 2*low)
	p.brine = 8.5 * lognormal(rng, 0.35)
	p.drawRate = low * (0.25 + 0.15*rng.Float64())
	back := truePhase{detect.Backwash, 600 * lognormal(rng, 0.4), high}
	brine := truePhase{detect.BrineDraw, 3600 * lognormal(rng, 0.35), low}
	brine.seconds = max(brine.seconds, 1.5*60*p.brine/p.drawRate)
	fast := truePhase{detect.FastRinse, 360 * lognormal(rng, 0.4), high * (0.85 + 0.3*rng.Float64())}
	fill := truePhase{detect.Refill, 0, 1.9 * lognormal(rng, 0.3)}
	fill.seconds = 60 * p.brine / fill.flow
	p.phases = []truePhase{back, brine, fast, fill}
	if rng.Float64() < 0.2 {
		p.home.Softener.RefillBefore = true
		rest := truePhase{"rest", 3600 * rng.Float64() * 2, 0}
		p.phases = []truePhase{fill, rest, back, brine, fast}
	}
	// A well of 100 mm without salt stands in the salt's pores.
	p.areaPores = math.Pi / 4 * ((460*460-100*100)*0.42*(0.97+0.06*rng.Float64()) + 100*100) / 1e6
	p.offset = 60 + 60*rng.Float64()
	if !p.home.Softener.RefillBefore {
		p.volume = p.brine
	}
	p.noise, p.drift = 0.5+4.5*rng.Float64(), 4*rng.Float64()
	p.idleWatts = 1 + 3*rng.Float64()
	p.skewHour = rng.NormFloat64() * 5
	if rng.Float64() < 0.1 {
		p.skewHour += 60
	}
	if rng.Float64() < 0.2 {
		p.leak = 0.1 + 3*rng.Float64()
	}
	p.home.Meters = p.meters()
	return p
}

func (p *plant) meters() detect.Meters {
	var m detect.Meters
	if p.sets.drain {
		m.Drain = &detect.Meter{Pulse: []float64{0, 0.1, 0.5, 1}[p.rng.IntN(4)]}
	}
	if p.sets.service {
		m.Service = &detect.Meter{Pulse: 0.1}
	}
	if p.sets.inlet {
		m.Inlet = &detect.Meter{Pulse: 0.1}
	}
	return m
}

// tap is water that the household draws until it ends.
type tap struct {
	until time.Time
	flow  float64
}

// run plays days of the home and hands each minute to see. Regenerations come
// every three to six days.
func (p *plant) run(days int, see func(*series.Minute)) {
	t := time.Date(2025, 3, 1, 12, 0, 0, 0, time.UTC)
	end := t.AddDate(0, 0, days)
	next := p.nextStart(t)
	var cycle *cycle
	var taps []tap
	gapUntil := t
	acc := newMinuteMaker(p)
	for ; t.Before(end) || cycle != nil; t = t.Add(10 * time.Second) {
		if cycle == nil && t.Before(end.Add(-6*time.Hour)) && !t.Before(next) {
			cycle = p.startCycle(t)
		}
		taps = p.household(t, taps)
		demand := p.leak
		for _, q := range taps {
			demand += q.flow
		}
		s := instant{}
		if cycle != nil {
			s = cycle.step(p)
			if cycle.done {
				cycle = nil
				next = p.nextStart(t)
			}
		}
		p.accidents(t)
		if t.Second() == 0 && p.rng.Float64() < 1.0/(5*1440) {
			gapUntil = t.Add(time.Hour)
		}
		if cycle != nil && t.Before(gapUntil) {
			cycle.truth.lost += 1.0 / 6
		}
		if cycle != nil {
			cycle.truth.leak = max(cycle.truth.leak, p.drainLeak)
		}
		s.up += demand
		s.drain += p.drainLeak
		acc.add(t, s, t.Before(gapUntil), see)
	}
}

// nextStart is some days on at the softener's hour, or by hand at any.
func (p *plant) nextStart(t time.Time) time.Time {
	day := t.Truncate(24*time.Hour).AddDate(0, 0, 3+p.rng.IntN(4))
	if p.rng.Float64() < 0.1 {
		return day.Add(time.Duration(p.rng.Float64() * float64(24*time.Hour)))
	}
	return day.Add(2*time.Hour + time.Duration(p.skewHour*float64(time.Minute)))
}

// household opens taps: by day mostly, sometimes at night; now and then the
// garden is watered, also at night.
func (p *plant) household(t time.Time, taps []tap) []tap {
	open := taps[:0]
	for _, q := range taps {
		if t.Before(q.until) {
			open = append(open, q)
		}
	}
	perHour := 1.5
	if h := t.Hour(); h < 6 {
		perHour = 0.25
	} else if h < 9 || h >= 17 && h < 22 {
		perHour = 4
	}
	if p.rng.Float64() < perHour/360 {
		open = append(open, tap{t.Add(time.Duration(10+p.rng.ExpFloat64()*180) * time.Second), 2 + 10*p.rng.Float64()})
	}
	if p.rng.Float64() < 0.4/8640 { // a garden watered for up to two hours, every few days
		open = append(open, tap{t.Add(time.Duration(10+110*p.rng.Float64()) * time.Minute), 5 + 15*p.rng.Float64()})
	}
	return open
}

// accidents: salt or water is put in, the drain begins or ceases to run.
func (p *plant) accidents(t time.Time) {
	if p.rng.Float64() < 1.0/(20*8640) {
		p.volume += (5 + 30*p.rng.Float64()) * p.areaPores
	}
	if p.rng.Float64() < 1.0/(15*8640) {
		if p.drainLeak == 0 && p.rng.Float64() < 0.5 {
			p.drainLeak = math.Exp(math.Log(0.05) + p.rng.Float64()*math.Log(160))
		} else {
			p.drainLeak = 0
		}
	}
}
