package plant

import (
	"math"

	"brinebell/detect"
	"brinebell/simulator/plant/column"
)

// own is the water that the softener uses itself, in L/min: what it takes from
// the pipe and what it sends down the drain.
type own struct{ water, drain float64 }

// own lets the softener use water for the given seconds: regeneration, leaks.
func (p *Plant) own(seconds float64, d Draw) own {
	if p.faults.bypass >= fullBypass {
		return own{}
	}
	minutes := seconds / 60
	asked := d.Soft + d.Bypassed
	pressure := max(0, d.SupplyPressure-serviceLine*asked*asked)
	force := math.Sqrt(pressure / ratedPressure)
	var o own
	switch p.valve.position {
	case detect.Backwash, detect.FastRinse:
		o = p.rinse(minutes, pressure)
	case detect.BrineDraw, detect.SlowRinse:
		o = p.draw(minutes, pressure)
	case detect.Refill:
		o.water = p.fill(minutes, p.valve.flow*p.setup.RefillControl*p.faults.brineLineOpen)
	default:
		o.drain = p.faults.sealLeak * force
		o.water = o.drain
	}
	if p.faults.seep > 0 && p.valve.position != detect.Refill {
		o.water += p.fill(minutes, p.faults.seep*p.faults.brineLineOpen*force)
	}
	return o
}

// fullBypass is the share past the softener from which no pressure is left in
// it to run a regeneration.
const fullBypass = 0.98

// limit is the most in L/min that a pressure drives down the drain line.
func (p *Plant) limit(pressure float64) float64 {
	open := p.faults.drainOpen
	return math.Sqrt(pressure/drainLine) * open
}

// rinse is a backwash, upward, or a fast rinse, downward.
func (p *Plant) rinse(minutes, pressure float64) own {
	due := p.valve.flow * p.setup.DrainControl
	flow := min(due*p.faults.drainOpen, p.limit(pressure))
	up := p.valve.position == detect.Backwash
	if up {
		p.lifted.came += flow * minutes
		p.lifted.due += p.valve.flow * minutes
	}
	p.wash(flow*minutes, minutes, p.source.water, up)
	return own{flow, flow}
}

// draw is the brine draw and the slow rinse: motive water, and brine as long
// as there is some and suction for it.
func (p *Plant) draw(minutes, pressure float64) own {
	programmed := p.valve.flow
	if p.valve.position == detect.SlowRinse {
		programmed /= 1 - entrained
	}
	b := p.beds[p.washing]
	p.pipes.clog = b.clog()
	open := p.faults.drainOpen
	back := drainLine*programmed*programmed/(open*open) + p.pipes.loss(programmed)
	motive, suction := p.injector.flows(programmed, pressure, back, p.tank.Level())
	motive = min(motive, p.limit(pressure))
	var brine, salt float64
	if p.valve.position == detect.BrineDraw && suction > 0 {
		brine, salt = p.tank.Draw(suction * minutes)
	}
	feed := p.source.water
	volume := motive*minutes + brine
	if volume > 0 {
		feed.Calcium *= motive * minutes / volume
		feed.Magnesium *= motive * minutes / volume
		feed.Total = (feed.Total*motive*minutes + salt*1000/p.molar) / volume
	}
	p.wash(volume, minutes, feed, false)
	return own{water: motive, drain: volume / minutes}
}

// wash pushes water through the bed that is being regenerated.
func (p *Plant) wash(volume, minutes float64, feed column.Water, up bool) {
	if volume <= 0 {
		return
	}
	b := p.beds[p.washing]
	out := b.column.Advance(volume, minutes*60, feed, up)
	b.soft = out
}

// fill lets water into the brine tank until the float closes, and returns the
// flow that went, in L/min.
func (p *Plant) fill(minutes, flow float64) float64 {
	if p.faults.floatAt > 0 && p.tank.Level() >= p.faults.floatAt {
		return 0
	}
	if flow <= 0 {
		return 0
	}
	p.tank.Fill(flow * minutes)
	return flow
}
