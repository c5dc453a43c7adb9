package finding

import (
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// flicker plays a gauge with noise.
func flicker(x *tap, minutes int, s detect.Signal, around, noise float64) {
	r := rand.New(rand.NewPCG(1, uint64(minutes)))
	for range minutes {
		x.run(1, flows{s: around + noise*r.NormFloat64()})
	}
}

func TestSensorStuck(t *testing.T) {
	const level, drain = detect.BrineLevel, detect.DrainFlow
	cycle := func(x *tap) {
		start := x.minute.Start.Add(time.Minute)
		x.run(80, flows{level: 250, drain: 3})
		x.view.Record = &regeneration.Record{Start: start, End: x.minute.Start, DrainLitres: 180, Confidence: 0.95}
		x.run(1, flows{level: 250, drain: 0})
		x.view.Record = nil
	}
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &SensorStuckWatch{} }, []scene{
		{"it flickers", func(x *tap) { flicker(x, 3*day, level, 200, 0.4) }, ""},
		{"a coarse gauge at rest", func(x *tap) { x.run(9*day, flows{level: 200}) }, ""},
		{"it stops flickering", func(x *tap) { flicker(x, day, level, 200, 0.4); x.run(day+5, flows{level: 200}) }, "+sensor_stuck "},
		{"and moves again", func(x *tap) {
			flicker(x, day, level, 200, 0.4)
			x.run(day+5, flows{level: 200})
			flicker(x, 9, level, 200, 0.4)
		}, "+sensor_stuck -sensor_stuck "},
		{"two regenerations pass a coarse one", func(x *tap) {
			x.run(60, flows{level: 100}).run(60, flows{level: 250})
			cycle(x)
			x.run(4*day, flows{level: 250})
			cycle(x)
		}, "+sensor_stuck "},
		{"one regeneration is a failed draw", func(x *tap) { x.run(60, flows{level: 250}); cycle(x); x.run(day, flows{level: 250}) }, ""},
	})
}
