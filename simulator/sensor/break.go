package sensor

import (
	"brinebell/detect"
)

// clockJump is how far a clock that went astray is off: a device that lost the
// time of day, not the date.
const clockJump = 7 * zoneMS

// Break makes a device fail in the given way from now on, or mends it. A silent
// device and one whose clock went astray fail as a whole; stuck and wild are the
// failures of the device's first channel.
func (d *Device) Break(m Mode, broken bool, now Truth) error {
	in, err := m.inner()
	if err != nil {
		return err
	}
	switch in {
	case silent:
		d.silent = broken
	case astray:
		d.jump = 0
		if broken {
			d.jump = clockJump
		}
	default:
		d.Channels[0].fail(in, broken, now)
	}
	return nil
}

func (c *Channel) fail(m mode, broken bool, now Truth) {
	if !broken {
		c.trouble = working
		return
	}
	c.trouble, c.frozen = m, now[c.Signal]
	if c.Meter != nil {
		c.frozen = float64(c.Meter.base+c.Meter.counted) * c.Meter.Pulse
		if c.Meter.Rate {
			c.frozen = now[c.point]
		}
	}
}

// Jam makes the device's meters at a flow point miss a share of the water: 0 is
// sound, 1 stands still.
func (d *Device) Jam(point detect.Signal, share float64) {
	for i := range d.Channels {
		if c := &d.Channels[i]; c.Meter != nil && c.point == point {
			c.Meter.good = max(0, min(1, 1-share))
		}
	}
}

// Reset puts every total of the device to nothing.
func (d *Device) Reset() {
	for i := range d.Channels {
		if m := d.Channels[i].Meter; m != nil {
			m.reset()
		}
	}
}
