package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestFloorWet(t *testing.T) {
	const f = detect.FloorWet
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &FloorWetWatch{} }, []scene{
		{"dry", func(x *tap) { x.run(day, flows{f: 0}) }, ""},
		{"mopped", func(x *tap) { x.run(9, flows{f: 0}).run(2, flows{f: 1}).run(day, flows{f: 0}) }, ""},
		{"a puddle", func(x *tap) { x.run(9, flows{f: 0}).run(5, flows{f: 1}) }, "+floor_wet "},
		{"a pad that speaks once", func(x *tap) { x.run(1, flows{f: 1}).run(5, flows{}) }, "+floor_wet "},
		{"drips are one puddle", func(x *tap) {
			for range 4 {
				x.run(60, flows{f: 1}).run(120, flows{f: 0})
			}
			x.run(day, flows{f: 0})
		}, "+floor_wet -floor_wet "},
		{"a broken pad", func(x *tap) { x.run(day, flows{f: 65535}) }, ""},
	})
}
