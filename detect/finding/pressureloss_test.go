package finding

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
)

// bedDay plays a day of steady uses through a bed that resists by a, b at 15 degC,
// in water of the given warmth behind a main of the given pressure.
func bedDay(x *tap, days int, grown float64, warmth func(day int) float64, main func(day int) float64, probe bool) {
	r := rand.New(rand.NewPCG(6, uint64(days)))
	for i := range days {
		temp := warmth(i)
		for range 24 {
			flow := 4 + 10*r.Float64()
			for m := range 60 {
				q := flow
				if m >= 5 {
					q = 0
				}
				// Poiseuille's linear term with viscosities of water from tables: 1.307 mPa s
				// at 10 degC, 1.002 at 20 (CRC Handbook, from memory), interpolated.
				mu := (1.307 - 0.0305*(temp-10)) / 1.138
				loss := grown * (0.9*q*mu + 0.03*q*q)
				p := main(i)
				f := flows{detect.InletPressure: p + 0.7*r.NormFloat64(), detect.OutletPressure: p - loss + 0.7*r.NormFloat64(), detect.ServiceFlow: q}
				if probe {
					f[detect.WaterTemperature] = temp
				}
				x.run(1, f)
				x.view.Books.Temperature = temp
				if !probe {
					x.view.Books.Temperature = math.NaN()
				}
			}
		}
	}
}

func TestPressureLoss(t *testing.T) {
	home := detect.DefaultHome("h", time.UTC)
	cool := func(int) float64 { return 12 }
	season := func(d int) float64 { return 10 + 0.1*float64(d) }
	steady := func(int) float64 { return 400 }
	sags := func(d int) float64 { return 400 - 10*float64(d%15) }
	scenes := []scene{
		{"nothing changes", func(x *tap) { bedDay(x, 60, 1, cool, steady, true) }, ""},
		{"the main sags", func(x *tap) { bedDay(x, 40, 1, cool, sags, true) }, ""},
		{"summer comes and goes", func(x *tap) { bedDay(x, 20, 1, season, steady, true); bedDay(x, 60, 1, season, steady, true) }, ""},
		{"winter comes, nobody measures", func(x *tap) {
			bedDay(x, 30, 1, cool, steady, false)
			bedDay(x, 30, 1, func(d int) float64 { return 12 - 0.1*float64(d) }, steady, false)
		}, ""},
		{"a fifth more", func(x *tap) { bedDay(x, 20, 1, cool, steady, true); bedDay(x, 21, 1.2, cool, steady, true) }, "+pressure_loss "},
		{"cleaned", func(x *tap) {
			bedDay(x, 20, 1, cool, steady, true)
			bedDay(x, 21, 1.4, cool, steady, true)
			bedDay(x, 6, 1, cool, steady, true)
		}, "+pressure_loss -pressure_loss "},
	}
	for i := range scenes {
		play := scenes[i].play
		scenes[i].play = func(x *tap) { x.view.Books = books.New(&x.home); play(x) }
	}
	judge(t, home, func() Detector { return &PressureLossWatch{} }, scenes)
}
