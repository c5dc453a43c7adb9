package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestStagnant(t *testing.T) {
	const in, soft, drain = detect.InletFlow, detect.ServiceFlow, detect.DrainFlow
	dry := flows{in: 0, soft: 0, drain: 0}
	use := flows{in: 6, soft: 6, drain: 0}
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &StagnantWatch{} }, []scene{
		{"91 hours away", func(x *tap) { x.run(9, use).run(91*60, dry).run(9, use) }, ""},
		{"eight days away", func(x *tap) { x.run(9, use).run(8*day, dry).run(9, use) }, "+stagnant -stagnant "},
		{"a drip keeps nothing fresh", func(x *tap) { x.run(9, use).run(8*day, flows{in: 0.001, soft: 0}) }, "+stagnant "},
		{"a dead house meter", func(x *tap) {
			x.run(9, use)
			for range 8 {
				x.run(10, flows{in: 0, soft: 5, drain: 0}).run(day, dry)
			}
		}, ""},
		{"a meter that a backwash does not move", func(x *tap) {
			x.run(9, use).run(4*day, dry).run(10, flows{in: 0, soft: 0, drain: 8}).run(4*day, dry)
		}, ""},
		{"nothing is known of half of it", func(x *tap) { x.run(9, use).run(4*day, dry).run(4*day, flows{}).run(2*day, dry) }, ""},
	})
}
