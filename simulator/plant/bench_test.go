package plant

import (
	"testing"
	"time"

	"brinebell/detect"
)

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		New(defaultHome(), Setup{})
	}
}

// BenchmarkStep is one step of 10 s in homes that draw 500 L a day: a healthy
// one, and those that never come to rest.
func BenchmarkStep(b *testing.B) {
	homes := map[string]func(*Plant){
		"healthy":        func(*Plant) {},
		"seals leak":     func(p *Plant) { p.Set(detect.SealsWorn, 0.5) },
		"tank seeps":     func(p *Plant) { p.Set(detect.BrineValveLeak, 0.5) },
		"toilet leaks":   func(*Plant) {},
		"hourly clock":   func(p *Plant) { p.Set(detect.ClockWrong, 0.5) },
		"bed is clogged": func(p *Plant) { p.Set(detect.BedClogged, 0.7) },
	}
	for name, spoil := range homes {
		b.Run(name, func(b *testing.B) {
			p := New(defaultHome(), Setup{})
			spoil(p)
			at := monday
			i := 0
			b.ReportAllocs()
			for b.Loop() {
				d := Draw{SupplyPressure: 400, Temperature: 12, Local: at}
				if k := i % 8640; k >= 7*360 && k < 7*360+150 || k >= 18*360 && k < 18*360+150 {
					d.Soft = 10
				}
				if name == "toilet leaks" {
					d.Soft += 0.3
				}
				if i%100_000 == 0 {
					p.AddSalt(30)
				}
				p.Step(tick, d)
				at = at.Add(10 * time.Second)
				i++
			}
		})
	}
}
