package regeneration

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// instant is ten seconds of the plant.
type instant struct {
	drain, up float64
	motor     bool
}

// cycle is one regeneration under way.
type cycle struct {
	at      time.Time
	i       int
	left    float64 // seconds of the phase
	motor   int     // ten-second steps the motor still runs
	truth   truth
	stopAt  float64 // seconds after which the power fails; +Inf: never
	elapsed float64
	undrawn bool
	stuckIn int // phase that lasts hours too long; -1: none
	done    bool
}

// enter starts phase i.
func (c *cycle) enter(p *plant) {
	c.left += p.phases[c.i].seconds
	if c.i == c.stuckIn {
		c.left += 3600 * (6 + 12*p.rng.Float64())
	}
}

func (p *plant) startCycle(t time.Time) *cycle {
	c := &cycle{at: t, motor: 3, stuckIn: -1, stopAt: math.Inf(1)}
	c.truth.start = t
	if p.rng.Float64() < 0.03 {
		sum := 0.0
		for _, q := range p.phases {
			sum += q.seconds
		}
		c.stopAt = sum * (0.35 + 0.4*p.rng.Float64())
		if p.home.Softener.RefillBefore { // before that it is a refill and nothing else
			main := p.phases[2].seconds + p.phases[3].seconds
			c.stopAt = p.phases[0].seconds + p.phases[1].seconds + main*(0.4+0.5*p.rng.Float64())
		}
		c.truth.cut = true
	}
	if p.rng.Float64() < 0.01 { // the valve stays where it is for hours
		c.stuckIn, c.truth.stuck = p.rng.IntN(len(p.phases)), true
		for q := p.phases[c.stuckIn].phase; q != detect.Backwash && q != detect.BrineDraw && q != detect.FastRinse; q = p.phases[c.stuckIn].phase {
			c.stuckIn = p.rng.IntN(len(p.phases))
		}
		c.truth.cut = false
		c.stopAt = math.Inf(1)
	}
	c.enter(p)
	if p.rng.Float64() < 0.04 {
		c.undrawn, c.truth.undrawn = true, true
	}
	return c
}

// step moves the cycle on by ten seconds.
func (c *cycle) step(p *plant) instant {
	const dt = 10.0
	q := p.phases[c.i]
	var s instant
	if c.motor > 0 {
		c.motor--
		s.motor = true
	}
	switch q.phase {
	case detect.Refill:
		s.up = q.flow
		p.volume += q.flow * dt / 60
		c.truth.refill += q.flow * dt / 60
	case detect.BrineDraw:
		s.drain, s.up = q.flow, q.flow
		if rate := p.drawRate * dt / 60; !c.undrawn && p.volume > rate {
			p.volume -= rate
			c.truth.brine += rate
			s.up -= p.drawRate
		}
	case detect.Backwash, detect.FastRinse:
		s.drain, s.up = q.flow*(1+0.03*p.rng.NormFloat64()), q.flow
	}
	c.truth.drain += s.drain * dt / 60
	c.elapsed += dt
	if c.left -= dt; c.left <= 0 {
		c.i++
		c.motor = 2
		if c.i < len(p.phases) {
			c.enter(p)
		}
	}
	if c.i >= len(p.phases) || c.elapsed >= c.stopAt {
		c.truth.end = c.at.Add(time.Duration(c.elapsed) * time.Second)
		p.truth = append(p.truth, c.truth)
		c.done = true
	}
	return s
}

// minuteMaker turns instants into what the sensors say of each minute.
type minuteMaker struct {
	p             *plant
	n             int
	drain, up     float64 // L, running totals
	drainAt, upAt float64 // totals last reported
	level         float64
	levels        int
	watts         float64
}

func newMinuteMaker(p *plant) *minuteMaker { return &minuteMaker{p: p} }

func quantise(v, step float64) float64 {
	if step == 0 {
		return v
	}
	return math.Floor(v/step) * step
}

func (m *minuteMaker) add(t time.Time, s instant, gap bool, see func(*series.Minute)) {
	p := m.p
	m.drain += s.drain / 6
	m.up += s.up / 6
	if every := p.sets.every; every <= 60 && t.Second()%every == 0 || t.Unix()%int64(every) == 0 {
		hours := float64(t.Unix()) / 3600
		y := p.offset + p.volume/p.areaPores + p.drift*math.Sin(2*math.Pi*hours/24) + p.noise*p.rng.NormFloat64()
		m.level += math.Round(y)
		m.levels++
	}
	m.watts += p.idleWatts / 6
	if s.motor {
		m.watts += 8.0 / 6
	}
	if m.n++; m.n < 6 {
		return
	}
	v := series.NewMinute(t.Add(-50 * time.Second).Truncate(time.Minute))
	m.report(&v)
	lost := gap || p.rng.Float64() < map[bool]float64{true: 0.003, false: 0.04}[p.sets.every < 60 || p.sets.every > 60]
	m.n, m.level, m.levels, m.watts = 0, 0, 0, 0
	if !lost {
		see(&v)
	}
}

// minutes is how many a total's reading covers.
func (m *minuteMaker) minutes() float64 { return max(float64(m.p.sets.every)/60, 1) }

func (m *minuteMaker) report(v *series.Minute) {
	p := m.p
	sampled := m.levels > 0
	if pulse := p.home.Meters.Drain; pulse != nil {
		total := quantise(m.drain, pulse.Pulse)
		if sampled {
			v.Values[detect.DrainFlow] = (total - m.drainAt) / m.minutes()
			m.drainAt = total
		}
	}
	total := quantise(m.up, 0.1)
	if sampled && p.sets.service {
		v.Values[detect.ServiceFlow] = (total - m.upAt) / m.minutes()
	}
	if sampled && p.sets.inlet {
		v.Values[detect.InletFlow] = (total - m.upAt) / m.minutes()
	}
	if sampled {
		m.upAt = total
	}
	if p.sets.level && sampled {
		v.Values[detect.BrineLevel] = m.level / float64(m.levels)
	}
	if p.sets.power {
		v.Values[detect.ValvePower] = m.watts
	}
}
