package finding

import (
	"testing"
	"time"

	"brinebell/detect"
)

// scene is one life of a home and what a detector should say of it.
type scene struct {
	name string
	play func(*tap)
	want string
}

// judge plays scenes to fresh detectors.
func judge(t *testing.T, home detect.Home, fresh func() Detector, scenes []scene) {
	t.Helper()
	for _, c := range scenes {
		x := newTap(fresh(), home)
		c.play(x)
		if got := x.said(); got != c.want {
			t.Errorf("%s: said %q, want %q: %+v", c.name, got, c.want, x.verdicts)
		}
	}
}

const day = 24 * 60

// What all detectors of a home cost in a minute in which nothing happens.
func BenchmarkIdle(b *testing.B) {
	var w Watches
	x := newTap(&w.PowerLost, detect.DefaultHome("h", time.UTC))
	x.run(200, flows{detect.InletFlow: 0, detect.ServiceFlow: 0, detect.DrainFlow: 0, detect.BrineLevel: 200, detect.ValvePower: 3,
		detect.InletPressure: 400, detect.OutletPressure: 398})
	for name, d := range map[string]Detector{"power_lost": &w.PowerLost, "floor_wet": &w.FloorWet, "burst": &w.Burst, "meter_slow": &w.MeterSlow,
		"stagnant": &w.Stagnant, "pressure_loss": &w.PressureLoss, "sensor_silent": &w.SensorSilent, "sensor_stuck": &w.SensorStuck,
		"sensor_implausible": &w.SensorImplausible, "sensor_clock": &w.SensorClock} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d.Step(&x.view)
			}
		})
	}
}
