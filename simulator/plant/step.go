package plant

import (
	"math"
	"time"

	"brinebell/detect"
	"brinebell/simulator/plant/column"
)

const (
	// longestStep is how far, in s, a regeneration is advanced at once.
	longestStep = 10.0
	// puddle is how long in s a floor stays wet.
	puddle = 6 * 3600.0
)

// Step advances the plant by dt while the household draws d.
func (p *Plant) Step(dt time.Duration, d Draw) State {
	seconds := dt.Seconds()
	powered := p.keepTime(seconds, p.wall.second(d.Local))
	if p.still && d.Soft == 0 && d.Bypassed == 0 {
		s := &p.state
		s.InletFlow, s.ServiceFlow, s.DrainFlow, s.SoftFlow = 0, 0, 0, 0
		s.InletPressure, s.OutletPressure = d.SupplyPressure, d.SupplyPressure
		s.ValvePower = p.power(powered)
		return *s
	}
	if seconds > longestStep && (p.regenerating() || p.faults.seep > 0) {
		return p.inParts(seconds, d, powered)
	}
	p.part(seconds, d, powered)
	return p.state
}

// inParts advances in equal parts of at most longestStep and shows mean flows.
func (p *Plant) inParts(seconds float64, d Draw, powered bool) State {
	n := math.Ceil(seconds / longestStep)
	var inlet, through, drain, soft float64
	for i := range int(n) {
		if i > 0 && powered {
			p.run(seconds / n)
		}
		p.part(seconds/n, d, powered)
		inlet += p.state.InletFlow / n
		through += p.state.ServiceFlow / n
		drain += p.state.DrainFlow / n
		soft += p.state.SoftFlow / n
	}
	mean := p.state
	mean.InletFlow, mean.ServiceFlow, mean.DrainFlow, mean.SoftFlow = inlet, through, drain, soft
	return mean
}

// keepTime lets the valve's clock and programme run, if there is power, and
// says whether there is.
func (p *Plant) keepTime(seconds float64, second int64) (powered bool) {
	if off := p.faults.unpowered; off > 0 && float64(second) < off*daySeconds {
		p.lost += seconds
		p.control.error -= seconds
		return false
	}
	if p.valve.running && seconds > longestStep {
		p.run(seconds / math.Ceil(seconds/longestStep))
	} else if p.valve.running || p.valve.motor > 0 {
		p.run(seconds)
	}
	if p.control.due(second, &p.faults) && p.valve.start() {
		p.began()
	}
	return true
}

// run moves the programme on; the end of a backwash settles the bed.
func (p *Plant) run(seconds float64) {
	ended, ok := p.valve.advance(seconds)
	if !ok || ended != detect.Backwash {
		return
	}
	p.beds[p.washing].backwashed(p.lifted.came / max(p.lifted.due, 1e-9))
	p.lifted = litres{}
}

func (p *Plant) began() {
	p.flush()
	p.control.began()
	p.still = false
	p.lifted = litres{}
	p.washing = p.serving
	if len(p.beds) > 1 {
		p.serving = 1 - p.serving
	}
	p.beds[p.washing].age(p.source.iron)
}

func (p *Plant) power(powered bool) float64 {
	if !powered {
		return 0
	}
	return p.valve.power()
}

// part advances by at most longestStep, or by any time outside a regeneration.
func (p *Plant) part(seconds float64, d Draw, powered bool) {
	p.pipes.warm(d.Temperature)
	minutes := seconds / 60
	own := p.own(seconds, d)
	taps := p.serve(minutes, d, own)
	s := &p.state
	s.SoftFlow = taps.flow
	s.DrainFlow = own.drain
	s.ServiceFlow = own.water + taps.flow*(1-p.faults.bypass)
	s.InletFlow = own.water + taps.flow + d.Bypassed
	s.InletPressure, s.OutletPressure = taps.before, taps.after
	s.ValvePower = p.power(powered)
	p.tank.Dissolve(seconds)
	p.wet = max(0, p.wet-seconds)
	if p.tank.Overflow() > 0 {
		p.wet = puddle
	}
	s.FloorWet = p.wet > 0
	p.show()
	p.still = !p.regenerating() && p.valve.motor == 0 && p.tank.Calm() && p.faults.seep == 0 && p.faults.sealLeak == 0 && p.wet == 0
}

// taps is what came out of the soft taps.
type taps struct{ flow, before, after float64 }

// serve gives the household its water through the bed, or past it.
func (p *Plant) serve(minutes float64, d Draw, own own) taps {
	b := p.beds[p.serving]
	through := 1 - p.faults.bypass
	inBed := through
	if !p.softens() {
		inBed = 0
	}
	p.pipes.clog = b.clog()
	var t taps
	t.flow, t.before, t.after = p.pipes.deliver(d.SupplyPressure, d.Soft, d.Bypassed+own.water, inBed, through)
	if t.flow <= 0 {
		return t
	}
	volume := t.flow * minutes
	water := p.source.water
	if inBed > 0 {
		b.serve(volume*inBed, minutes*60, p.source.water)
		p.control.counted += volume * inBed * p.faults.counted
		water = column.Mix(b.soft, p.source.water, 1-inBed*(1-p.faults.slip))
	}
	p.state.SoftHardness = hardness(water)
	p.state.HotHardness = heat(p.state.HotHardness, volume, p.state.SoftHardness)
	p.state.SoftConductivity = p.source.conductivity(water)
	return t
}

// softens says whether the house's water goes through resin: always with two
// tanks, with one only while the piston stands in service or refills.
func (p *Plant) softens() bool {
	return len(p.beds) > 1 || p.valve.position == service || p.valve.position == detect.Refill
}
