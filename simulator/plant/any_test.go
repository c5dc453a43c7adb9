package plant

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

// anyHome is a home that a homes file can hold, common or not.
func anyHome(t *rapid.T) detect.Home {
	h := defaultHome()
	f := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	h.Water.Hardness, h.Water.Iron = f("hardness", 0, 1200), f("iron", 0, 8)
	s := &h.Softener
	s.Resin, s.Capacity, s.SaltDose = f("resin", 3, 90), f("capacity", 0.2, 1.8), f("dose", 0, 15)
	s.Reserve = f("reserve", 0, 0.6)
	s.Control = rapid.SampledFrom([]detect.Control{detect.MeteredDelayed, detect.MeteredImmediate, detect.Timed}).Draw(t, "control")
	s.Salt = rapid.SampledFrom([]detect.Salt{detect.SodiumChloride, detect.PotassiumChloride}).Draw(t, "salt")
	s.DaysOverride = rapid.IntRange(0, 10).Draw(t, "days")
	s.Alternating, s.RefillBefore = rapid.Bool().Draw(t, "alternating"), rapid.Bool().Draw(t, "before")
	s.Cycle = nil
	for range rapid.IntRange(0, 6).Draw(t, "phases") {
		s.Cycle = append(s.Cycle, detect.ProgrammeStep{
			Phase:    rapid.SampledFrom([]detect.Phase{detect.Backwash, detect.BrineDraw, detect.SlowRinse, detect.FastRinse, detect.Refill}).Draw(t, "phase"),
			Duration: time.Duration(rapid.IntRange(0, 90).Draw(t, "minutes")) * time.Minute,
			Flow:     f("flow", 0, 25),
		})
	}
	k := &h.BrineTank
	k.Grid, k.Float, k.Well = f("grid", 0, 200), f("float", 0, 700), f("well", 0, 150)
	k.Diameter, k.Height, k.SaltVoid = f("diameter", 200, 600), f("height", 400, 1000), f("void", 0.3, 0.6)
	return h
}

// Whatever the home, whatever breaks, and however long the steps: nothing that
// a sensor could not show.
func TestAnyHomeStaysPhysical(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHome(t)
		p := New(h, Setup{Seed: rapid.Uint64().Draw(t, "seed"), Scatter: 0.1,
			SettingsHigh: rapid.Bool().Draw(t, "high"), FloatStuckOpen: rapid.Bool().Draw(t, "open")})
		at := monday
		for range rapid.IntRange(1, 25).Draw(t, "spells") {
			cause := rapid.SampledFrom(detect.Causes()).Draw(t, "cause")
			p.Set(cause, rapid.SampledFrom([]float64{0, 0.3, 0.7, 1}).Draw(t, "severity"))
			dt := rapid.SampledFrom([]time.Duration{700 * time.Millisecond, 10 * time.Second, time.Minute, 2 * time.Minute}).Draw(t, "step")
			d := Draw{Soft: rapid.SampledFrom([]float64{0, 0, 0.02, 8, 60}).Draw(t, "soft"), Bypassed: rapid.SampledFrom([]float64{0, 0, 12}).Draw(t, "bypassed"),
				SupplyPressure: rapid.SampledFrom([]float64{0, 60, 250, 600}).Draw(t, "supply"), Temperature: rapid.Float64Range(1, 30).Draw(t, "temperature")}
			for range 40 {
				d.Local = at
				physical(t, p, p.Step(dt, d), d)
				at = at.Add(dt)
			}
			if rapid.Bool().Draw(t, "by hand") {
				p.Regenerate()
			}
			p.AddSalt(rapid.SampledFrom([]float64{0, 0, 25}).Draw(t, "salt"))
		}
	})
}

func physical(t *rapid.T, p *Plant, s State, d Draw) {
	for name, v := range map[string]float64{"inlet": s.InletFlow, "service": s.ServiceFlow, "drain": s.DrainFlow, "soft": s.SoftFlow,
		"level": s.BrineLevel, "salt level": s.SaltLevel, "before": s.InletPressure, "after": s.OutletPressure, "power": s.ValvePower,
		"soft hardness": s.SoftHardness, "hot": s.HotHardness, "conductivity": s.SoftConductivity, "salt": p.Salt()} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < -1e-9 {
			t.Fatalf("%s is %v: %+v", name, v, s)
		}
	}
	if s.SoftFlow > d.Soft+1e-9 || s.ServiceFlow > s.InletFlow+1e-6 || s.OutletPressure > s.InletPressure+1e-9 || s.InletPressure > d.SupplyPressure+1e-9 {
		t.Fatalf("flows or pressures do not add up: %+v of %+v", s, d)
	}
	if s.BrineLevel > p.home.BrineTank.Height || s.SaltLevel > p.home.BrineTank.Height*1.001 {
		t.Fatalf("above the rim of %v mm: %+v", p.home.BrineTank.Height, s)
	}
}
