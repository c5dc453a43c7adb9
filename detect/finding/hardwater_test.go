package finding

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// tests are single readings of the cold tap, a week apart.
func tests(mg ...float64) func(*life) {
	return func(l *life) {
		for _, v := range mg {
			l.days(7, 300).minutes(1, flows{detect.ColdHardness: v})
		}
	}
}

// probe has the cold tap read at every minute.
func (l *life) probe(mg float64) *life {
	l.base[detect.ColdHardness] = mg
	return l
}

func TestHardWater(t *testing.T) {
	for _, p := range []plot{
		{"soft tests", nil, tests(0, 17, 0, 34, 17), ""},
		{"one hard test, of a bed at its end", nil, tests(0, 120, 17, 0), ""},
		{"two hard tests", nil, tests(0, 120, 154), "+hard_water "},
		{"and two soft ones", nil, tests(0, 120, 154, 17, 0), "+hard_water -hard_water "},
		{"probe, soft", nil, func(l *life) { l.probe(8).cycles(5, 5, 1) }, ""},
		{"probe, hard throughout", nil, func(l *life) { l.probe(8).cycles(4, 5, 1).probe(200).cycles(2, 5, 1) }, "+hard_water "},
		{"probe, met exhausted", nil, func(l *life) { l.probe(250).days(4, 400).regenerate(2, 0).probe(10).cycles(3, 5, 1) }, ""},
		{"probe, a day's end of each cycle", nil, func(l *life) {
			for range 6 {
				l.probe(5).days(4, 700).probe(150).days(1, 500).regenerate(2, 0)
			}
		}, ""},
		{"hard and soft by turns is one finding", nil, func(l *life) {
			l.probe(8).cycles(4, 5, 1)
			for range 4 {
				l.probe(5).days(2, 100).probe(150).days(3, 100).regenerate(2, 0)
			}
		}, "+hard_water "},
		{"mended", nil, func(l *life) { l.probe(8).cycles(4, 5, 1).probe(200).cycles(2, 5, 1).probe(8).cycles(3, 5, 1) }, "+hard_water -hard_water "},
		{"naturally soft water", func(h *detect.Home) { h.Water.Hardness = 60 }, func(l *life) { l.probe(40).cycles(4, 5, 1) }, ""},
	} {
		p.check(t, func() Detector { return &HardWaterWatch{} })
	}
}

func TestCapacityShort(t *testing.T) {
	runsOut := func(l *life, n int, share float64) {
		for range n {
			l.probe(5).days(4, litresFor(&l.home, share)/4).probe(150).days(2, litresFor(&l.home, 1.05-share)/2).regenerate(2, 0)
		}
	}
	for _, p := range []plot{
		{"soft to the end", nil, func(l *life) { l.probe(5).cycles(6, 5, 1.05) }, ""},
		{"out at half", nil, func(l *life) { l.probe(5).cycles(3, 5, 1.05); runsOut(l, 3, 0.5) }, "+capacity_short "},
		{"once", nil, func(l *life) { l.probe(5).cycles(3, 5, 1.05); runsOut(l, 1, 0.5); l.probe(5).cycles(3, 5, 1.05) }, ""},
		{"before each regeneration, late in the cycle", nil, func(l *life) { l.probe(5).cycles(6, 5, 1.05); runsOut(l, 4, 0.97) }, "+capacity_short "},
		{"guests at the end of every fourth", nil, func(l *life) {
			for range 6 {
				l.probe(5).cycles(3, 5, 1.05)
				runsOut(l, 1, 0.97)
			}
		}, ""},
		{"and the reserve set back", nil, func(l *life) {
			l.probe(5).cycles(6, 5, 1.05)
			runsOut(l, 4, 0.97)
			l.probe(5).cycles(3, 5, 1.05)
		}, "+capacity_short -capacity_short "},
		{"hard all the time is something else", nil, func(l *life) { l.probe(5).cycles(3, 5, 1.05).probe(200).cycles(3, 5, 1.05) }, ""},
		{"mended", nil, func(l *life) { l.probe(5).cycles(3, 5, 1.05); runsOut(l, 3, 0.5); l.probe(5).cycles(4, 5, 1.05) }, "+capacity_short -capacity_short "},
	} {
		p.check(t, func() Detector { return &CapacityShortWatch{} })
	}
}

// strips are readings of the water before the softener, a week apart.
func strips(mg ...float64) func(*life) {
	return func(l *life) {
		for _, v := range mg {
			l.days(7, 300).minutes(1, flows{detect.RawHardness: v})
		}
	}
}

func TestHarderWater(t *testing.T) {
	for _, p := range []plot{
		{"as ever, by strips", nil, strips(308, 291, 308, 291, 325, 274, 308, 308, 291, 325), ""},
		{"one misread", nil, strips(308, 291, 308, 291, 600, 308, 291, 308), ""},
		{"half as hard again", nil, strips(308, 291, 308, 291, 450, 445, 462), "+capacity_short "},
		{"and back", nil, strips(308, 291, 308, 291, 450, 445, 462, 308, 291), "+capacity_short -capacity_short "},
		{"softer", nil, strips(308, 291, 308, 291, 200, 188, 205), ""},
		{"a profile that is wrong", nil, strips(500, 520, 490, 500, 505, 520), ""},
		{"a probe's noise", nil, func(l *life) {
			for i := range 40 {
				l.base[detect.RawHardness] = 300 * (1 + 0.1*math.Sin(float64(i)))
				l.days(1, 300)
			}
		}, ""},
	} {
		p.check(t, func() Detector { return &CapacityShortWatch{} })
	}
}

func TestRinseShort(t *testing.T) {
	for _, p := range []plot{
		{"rinsed", nil, func(l *life) { l.cycles(5, 5, 1) }, ""},
		{"a third less, enough by bed volumes", nil, func(l *life) { l.cycles(4, 5, 1); l.cycle.DrainLitres = 190; l.cycles(2, 5, 1) }, ""},
		{"a quarter of it", nil, func(l *life) { l.cycles(4, 5, 1); l.cycle.DrainLitres = 120; l.cycles(1, 5, 1) }, "+rinse_short "},
		{"the same, nothing drawn", nil, func(l *life) {
			l.cycles(4, 5, 1)
			l.cycle.DrainLitres, l.cycle.BrineLitres = 120, 0.3
			l.cycles(1, 5, 1)
		}, ""},
		{"no drain meter", nil, func(l *life) { l.cycle.DrainLitres = math.NaN(); l.cycles(4, 5, 1) }, ""},
		{"backwash and last rinse at half", nil, func(l *life) { l.cycles(5, 5, 1).quick(0.5).cycles(3, 5, 1) }, "+rinse_short "},
		{"and cleared", nil, func(l *life) { l.cycles(5, 5, 1).quick(0.5).cycles(3, 5, 1).quick(1).cycles(2, 5, 1) }, "+rinse_short -rinse_short "},
		{"all of it less, by the pressure", nil, func(l *life) {
			l.cycles(5, 5, 1)
			l.cycle.DrainLitres *= 0.75
			l.quick(0.75).cycles(4, 5, 1)
		}, ""},
		{"pulses too coarse for phases", func(h *detect.Home) { h.Meters.Drain = &detect.Meter{Pulse: 10} },
			func(l *life) { l.cycles(5, 5, 1).quick(0.5).cycles(3, 5, 1) }, ""},
		{"cut short", nil, func(l *life) {
			l.cycles(4, 5, 1)
			l.cycle.DrainLitres, l.cycle.Ending = 130, regeneration.CutShort
			l.cycles(1, 5, 1)
		}, "+rinse_short "},
		{"salty by the probe, then not", nil, func(l *life) {
			l.base[detect.SoftConductivity] = 600
			l.cycles(2, 5, 1)
			l.base[detect.SoftConductivity] = 1400
			l.minutes(30, flows{detect.ServiceFlow: 2})
			l.base[detect.SoftConductivity] = 600
			l.cycles(1, 5, 1)
		}, "+rinse_short -rinse_short "},
		{"much harder water from the works", nil, func(l *life) {
			l.base[detect.SoftConductivity] = 940
			l.cycles(2, 5, 1)
			l.base[detect.SoftConductivity] = 1460
			l.cycles(2, 5, 1)
		}, ""},
		{"other water from the works", nil, func(l *life) {
			l.base[detect.SoftConductivity] = 600
			l.cycles(2, 5, 1)
			l.base[detect.SoftConductivity] = 750
			l.cycles(2, 5, 1)
		}, ""},
	} {
		p.check(t, func() Detector { return &RinseShortWatch{} })
	}
}

// vary plays cycles whose figures scatter by themselves and together.
func (l *life) vary(r *rand.Rand, n int, brine, refill float64) *life {
	for range n {
		all := 1 + 0.05*r.NormFloat64()
		l.cycle.BrineLitres = sound * brine * all * (1 + 0.05*r.NormFloat64())
		l.cycle.RefillLitres = 7.6 * refill * all * (1 + 0.05*r.NormFloat64())
		l.cycle.DrainLitres = 242 * (1 + 0.04*r.NormFloat64())
		l.cycles(1, 5, 1.05+0.1*r.Float64())
	}
	return l
}

func TestUnusual(t *testing.T) {
	for _, p := range []plot{
		{"as ever", nil, func(l *life) { l.vary(rand.New(rand.NewPCG(3, 1)), 30, 1, 1) }, ""},
		{"brine and refill part", nil, func(l *life) {
			r := rand.New(rand.NewPCG(4, 1))
			l.vary(r, 16, 1, 1).vary(r, 4, 0.5, 1.8)
		}, "+unusual "},
		{"and come together", nil, func(l *life) {
			r := rand.New(rand.NewPCG(5, 1))
			l.vary(r, 16, 1, 1).vary(r, 4, 0.5, 1.8).vary(r, 3, 1, 1)
		}, "+unusual -unusual "},
		{"twice only", nil, func(l *life) {
			r := rand.New(rand.NewPCG(6, 1))
			l.vary(r, 16, 1, 1).vary(r, 2, 0.5, 1.8).vary(r, 3, 1, 1)
		}, ""},
		{"with a name", nil, func(l *life) {
			r := rand.New(rand.NewPCG(7, 1))
			l.vary(r, 16, 1, 1)
			l.detector.(*UnusualWatch).note(&Verdict{Kind: detect.SaltDrawLow, Standing: true})
			l.vary(r, 4, 0.5, 1.8)
		}, ""},
	} {
		p.check(t, func() Detector { return &UnusualWatch{} })
	}
}

// In control, three in a row are never seen in some 3,000 regenerations.
func TestUnusualFalseAlarms(t *testing.T) {
	raised := 0
	for seed := range uint64(25) {
		l := newLife(&UnusualWatch{}, detect.DefaultHome("h", time.UTC))
		l.vary(rand.New(rand.NewPCG(seed, 8)), 40, 1, 1)
		raised += strings.Count(l.raisings(), "+")
	}
	if raised > 0 {
		t.Errorf("%d in 1,000 sound regenerations", raised)
	}
}

// What the others find is known to the one that judges what is left.
func TestUnusualHearsTheOthers(t *testing.T) {
	var w Watches
	all := w.All()
	h, ok := all[0].(hearing)
	if !ok || h.unusual != &w.Unusual || all[len(all)-1] != Detector(&w.Unusual) {
		t.Fatal("the last detector must hear all others")
	}
	h = hearing{&HardWaterWatch{}, &w.Unusual}
	x := newLife(h, detect.DefaultHome("h", time.UTC))
	tests(120, 150)(x)
	if w.Unusual.Others == 0 {
		t.Error("a standing finding was not heard")
	}
	tests(0, 0)(x)
	if w.Unusual.Others != 0 {
		t.Error("nor that it is gone")
	}
}
