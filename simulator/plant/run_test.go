package plant

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestLook(t *testing.T) {
	p := New(detect.DefaultHome("a", time.UTC), Setup{})
	at := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	was := false
	var drain, soft float64
	var worst float64
	for i := range 30 * 8640 {
		d := Draw{SupplyPressure: 400, Temperature: 12, Local: at}
		if i%8640 >= 7*360 && i%8640 < 7*360+5*30 {
			d.Soft = 10 // 250 L
		}
		if i%8640 >= 18*360 && i%8640 < 18*360+5*30 {
			d.Soft = 10
		}
		s := p.Step(10*time.Second, d)
		drain += s.DrainFlow / 6
		soft += s.SoftFlow / 6
		worst = max(worst, s.SoftHardness)
		if s.Regenerating != was {
			t.Logf("%v regen %v level %.0f salt %.0f (%.2f kg) drain %.0f L soft %.0f worst %.1f hot %.1f cond %.0f loaded %.3f", at.Format("02 15:04"), s.Regenerating, s.BrineLevel, s.SaltLevel, p.Salt(), drain, soft, worst, s.HotHardness, s.SoftConductivity, p.Loaded())
			drain, soft = 0, 0
			worst = 0
			was = s.Regenerating
		}
		if i%8640 == 7*360+10 {
			t.Logf("  morning %v: hard %.1f cond %.0f p %.0f->%.0f", at.Format("02"), s.SoftHardness, s.SoftConductivity, s.InletPressure, s.OutletPressure)
		}
		at = at.Add(10 * time.Second)
	}
}

func BenchmarkStep(b *testing.B) {
	p := New(detect.DefaultHome("a", time.UTC), Setup{})
	at := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	i := 0
	for b.Loop() {
		d := Draw{SupplyPressure: 400, Temperature: 12, Local: at}
		if k := i % 8640; k >= 7*360 && k < 7*360+5*30 || k >= 18*360 && k < 18*360+5*30 {
			d.Soft = 10
		}
		if i%100_000 == 0 {
			p.AddSalt(30)
		}
		p.Step(10*time.Second, d)
		at = at.Add(10 * time.Second)
		i++
	}
}
