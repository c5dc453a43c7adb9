package simulator

import (
	"math"
	"math/rand/v2"
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/plant"
	"brinebell/simulator/sensor"
)

// breakdown brings faults on and takes them away again.
type breakdown struct {
	r       *rand.Rand
	all     []fault.Fault
	level   []float64 // as last set
	people  *household.Demand
	plant   *plant.Plant
	devices []sensor.Device
	mode    sensor.Mode
	broken  int // the device a sensor_fault breaks
}

// levelStep is how finely a fault grows: the parts are told of each step.
const levelStep = 0.01

// turn sets every fault to its level at t. It says whether salt has just been
// brought after it had run out.
func (b *breakdown) turn(t time.Time, now *sensor.Truth) (brought bool) {
	for i, f := range b.all {
		level := math.Ceil(f.Level(t)/levelStep-1e-9) * levelStep
		if f.Active(t) {
			level = max(level, levelStep)
		}
		if level != b.level[i] || f.Cause == detect.MeterCable && level > 0 {
			b.set(f.Cause, level, t, now)
		}
		if f.Cause == detect.SaltEmpty {
			brought = brought || level == 0 && b.level[i] > 0
		}
		b.level[i] = level
	}
	return brought
}

func (b *breakdown) set(c detect.Cause, level float64, t time.Time, now *sensor.Truth) {
	if fault.ReachesPlant(c) {
		b.plant.Set(c, level)
	}
	switch fault.Place(c) {
	case fault.Plumbing, fault.Household:
		b.people.Set(c, level, t)
	case fault.Sensing:
		b.sensing(c, level, now)
	}
}

// sensing breaks what measures. A broken cable has contact now and then: it is
// drawn anew at every turn, so that over time the severity's share of the
// water is missed.
func (b *breakdown) sensing(c detect.Cause, level float64, now *sensor.Truth) {
	switch c {
	case detect.MeterJammed:
		b.jam(level)
	case detect.MeterCable:
		if b.r.Float64() < level {
			b.jam(1)
		} else {
			b.jam(0)
		}
	case detect.SensorFault:
		// The mode was checked when the home was made.
		_ = b.devices[b.broken].Break(b.mode, level > 0, *now)
	}
}

func (b *breakdown) jam(share float64) {
	for i := range b.devices {
		b.devices[i].Jam(detect.ServiceFlow, share)
	}
}

// next is the first start or end of a fault after t, in Unix milliseconds.
func (b *breakdown) next(t time.Time) int64 {
	next := int64(math.MaxInt64)
	for _, f := range b.all {
		for _, edge := range []time.Time{f.Start, f.End} {
			if edge.After(t) {
				next = min(next, edge.UnixMilli())
			}
		}
	}
	return next
}
