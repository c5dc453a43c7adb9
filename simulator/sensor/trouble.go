package sensor

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// mode is how a channel or a device is broken.
type mode uint8

const (
	working mode = iota
	stuck        // shows the same value for ever
	wild         // shows nonsense now and then
	silent       // sends nothing
	astray       // the clock jumped
)

// Mode names a way in which a sensor fails.
type Mode string

// The ways.
const (
	Stuck  Mode = "stuck"
	Wild   Mode = "wild"
	Silent Mode = "silent"
	Astray Mode = "clock"
)

// Modes lists them.
func Modes() []Mode { return []Mode{Stuck, Wild, Silent, Astray} }

func (m Mode) inner() (mode, error) {
	for i, x := range Modes() {
		if x == m {
			return stuck + mode(i), nil
		}
	}
	return working, fmt.Errorf("unknown way for a sensor to fail %q: use stuck, wild, silent, clock", string(m))
}

// wrong is what a broken channel shows in place of v.
func (c *Channel) wrong(v float64, r *rand.Rand) float64 {
	switch c.trouble {
	case stuck:
		return c.frozen
	case wild:
		if r.Float64() < 0.1 {
			return []float64{-999, 65535, v + 5000, 0}[r.IntN(4)]
		}
	}
	return v
}

// Link is what becomes of readings between a device and whoever stores them.
// The zero value is a wire.
type Link struct {
	Lost       float64       // share of single readings that never arrive
	Twice      float64       // share that arrives a second time, a little later
	OutagesPer float64       // outages in 30 days
	Outage     time.Duration // their mean length
	Buffer     int           // readings kept through an outage; the oldest go first. 0: none
}

// Clock is a device's clock against the true time.
type Clock struct {
	Offset time.Duration
	Drift  float64 // seconds gained a day
}

func (c Clock) stamp(at, since int64) int64 {
	if c.Drift == 0 {
		return at + c.Offset.Milliseconds()
	}
	return at + c.Offset.Milliseconds() + int64(c.Drift*float64(at-since)/86400)
}
