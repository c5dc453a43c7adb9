package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestPowerLost(t *testing.T) {
	const w = detect.ValvePower
	on, off := flows{w: 3}, flows{w: 0}
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &PowerLostWatch{} }, []scene{
		{"always on", func(x *tap) { x.run(3*day, on) }, ""},
		{"a short pull of the plug", func(x *tap) { x.run(day, on).run(25, off).run(day, on) }, ""},
		{"no plug", func(x *tap) { x.run(3*day, flows{}) }, ""},
		{"cut off", func(x *tap) { x.run(day, on).run(40, off) }, "+power_lost "},
		{"off every night is one finding", func(x *tap) {
			x.run(day, on)
			for range 5 {
				x.run(300, off).run(day-300, on)
			}
			x.run(2*day, on)
		}, "+power_lost -power_lost "},
		{"a plug that never showed any", func(x *tap) { x.run(day, off) }, ""},
		{"for two days it is asked", func(x *tap) { x.run(3*day, off).run(5, on) }, "+power_lost -power_lost "},
		{"a clock of half a watt", func(x *tap) { x.run(5*day, flows{w: 0.5}) }, ""},
	})
	x := newTap(&PowerLostWatch{}, detect.DefaultHome("h", time.UTC)).run(60, on)
	from := x.minute.Start.Add(time.Minute)
	x.run(40, off)
	if v := x.verdicts[0]; !v.Onset.Equal(from) || v.Severity != detect.ThisWeek {
		t.Errorf("%+v", v)
	}
}
