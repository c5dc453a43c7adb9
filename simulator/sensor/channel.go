package sensor

import (
	"math"
	"math/rand/v2"
	"time"

	"brinebell/detect"
)

// Channel is how one signal is measured and how often.
type Channel struct {
	Signal  detect.Signal
	Every   time.Duration
	Meter   *Meter  // for flow points and their totals
	Noise   float64 // standard deviation
	Share   float64 // standard deviation as a share of the value
	Step    float64 // quantum; 0: as the decimals
	Offset  float64
	PerK    float64       // drift with the temperature's distance from 15 degC
	Low     float64       // the least it can show
	First   time.Duration // after the start, until the first reading
	scale   float64       // decimals, as a power of ten
	point   detect.Signal
	due     int64 // on the channel's own grid
	next    int64 // due and the jitter
	every   int64
	trouble mode
	frozen  float64
}

// decimals a reading is given with.
func decimals(s detect.Signal) float64 {
	switch s {
	case detect.InletVolume, detect.ServiceVolume, detect.DrainVolume,
		detect.InletFlow, detect.ServiceFlow, detect.DrainFlow:
		return 1000
	case detect.FloorWet, detect.Battery, detect.RawHardness, detect.ColdHardness, detect.HotHardness:
		return 1
	}
	return 10
}

func (c *Channel) start(at int64) {
	c.scale, c.every = decimals(c.Signal), max(1, c.Every.Milliseconds())
	if c.Step == 0 {
		c.Step = 1 / c.scale
	}
	c.point, _ = c.Signal.FlowPoint()
	c.due = at + c.First.Milliseconds()
	c.next = c.due
	if m := c.Meter; m != nil {
		if m.Pulse == 0 {
			m.Pulse = resolution
		}
		m.good, m.lastAt = 1, at
	}
}

// value is what the channel shows of the truth at an instant, so many
// milliseconds into a step.
func (c *Channel) value(truth *Truth, at, into int64, r *rand.Rand) float64 {
	var v float64
	switch {
	case c.Meter != nil:
		v = c.Meter.read(at, c.Meter.ahead(truth[c.point], into))
	case c.Signal == detect.FloorWet:
		v = truth[c.Signal]
	default:
		v = c.gauge(truth, r)
	}
	if c.trouble != working {
		v = c.wrong(v, r)
	}
	return math.RoundToEven(v*c.scale) / c.scale
}

func (c *Channel) gauge(truth *Truth, r *rand.Rand) float64 {
	v := truth[c.Signal]
	if c.Share > 0 {
		v += float64(v * c.Share * r.NormFloat64())
	}
	v += c.Offset + float64(c.PerK*(truth[detect.WaterTemperature]-15))
	if c.Noise > 0 {
		v += float64(c.Noise * r.NormFloat64())
	}
	return max(c.Low, math.RoundToEven(v/c.Step)*c.Step)
}
