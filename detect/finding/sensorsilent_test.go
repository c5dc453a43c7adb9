package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestSensorSilent(t *testing.T) {
	const in, level, strip = detect.InletFlow, detect.BrineLevel, detect.RawHardness
	both := flows{in: 0, level: 200}
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &SensorSilentWatch{} }, []scene{
		{"both speak", func(x *tap) { x.run(4*day, both) }, ""},
		{"a day without radio", func(x *tap) { x.run(day, both).run(day, flows{in: 0}).run(day, both) }, ""},
		{"one falls silent", func(x *tap) { x.run(day, both).run(2*day, flows{in: 0}) }, "+sensor_silent "},
		{"and comes back", func(x *tap) { x.run(day, both).run(2*day, flows{in: 0}).run(9, both) }, "+sensor_silent -sensor_silent "},
		{"the whole home", func(x *tap) { x.run(day, both).run(9*day, flows{}).run(day, both) }, ""},
		{"a strip now and then", func(x *tap) { x.run(1, flows{in: 0, strip: 300}).run(9*day, both) }, ""},
		{"a pad that speaks when it changes", func(x *tap) {
			for range 120 {
				x.run(1, flows{in: 0, level: 9}).run(900, flows{in: 0})
			}
			x.run(29*60, flows{in: 0})
		}, ""},
	})
}
