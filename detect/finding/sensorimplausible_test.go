package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestSensorImplausible(t *testing.T) {
	const level, temp = detect.BrineLevel, detect.WaterTemperature
	fine := flows{level: 200, temp: 12}
	now := func(x *tap, minutes int, f flows) *tap {
		for range minutes {
			x.run(20, fine).run(1, f)
		}
		return x
	}
	judge(t, detect.DefaultHome("h", time.UTC), func() Detector { return &SensorImplausibleWatch{} }, []scene{
		{"all is well", func(x *tap) { x.run(3*day, fine) }, ""},
		{"one glitch", func(x *tap) { now(x, 2, flows{level: 65535}).run(day, fine) }, ""},
		{"nonsense now and then", func(x *tap) { now(x, 6, flows{level: -999}) }, "+sensor_implausible "},
		{"colder than water can be", func(x *tap) { now(x, 6, flows{temp: -40}) }, "+sensor_implausible "},
		{"mended", func(x *tap) { now(x, 6, flows{level: 9000}).run(3*day, fine) }, "+sensor_implausible -sensor_implausible "},
		{"a brim-full tank", func(x *tap) { x.run(day, flows{level: 850}) }, ""},
	})
}

// A meter whose totals cannot be leaves its minutes unknown while it speaks.
func TestMeterImplausible(t *testing.T) {
	x := newTap(&SensorImplausibleWatch{}, detect.DefaultHome("h", time.UTC))
	m := x.sensors.Meter(detect.InletFlow)
	m.Interval = 10
	x.run(9, flows{detect.InletFlow: 0})
	for range 300 {
		m.At = x.minute.Start.Add(90 * time.Second).UnixMilli()
		x.run(1, flows{})
	}
	if x.said() != "+sensor_implausible " {
		t.Error(x.said())
	}
}
