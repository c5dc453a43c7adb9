package plant

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
)

const tick = 10 * time.Second

// monday is the start of every run, local midnight.
var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// washes is a plain demand: 10 L/min in two spells a day that make litres, at
// 07:00 and 18:00.
func washes(litres float64) func(time.Time) float64 {
	spell := time.Duration(litres / 2 / 10 * float64(time.Minute))
	return func(at time.Time) float64 {
		day := at.Sub(at.Truncate(24 * time.Hour))
		for _, start := range []time.Duration{7 * time.Hour, 18 * time.Hour} {
			if day >= start && day < start+spell {
				return 10
			}
		}
		return 0
	}
}

// cycle is one regeneration as someone beside the softener would note it.
type cycle struct {
	begin, end time.Time
	drain      float64 // L
	before     float64 // mm, as it began
	levelLow   float64 // mm, lowest during it
	levelEnd   float64
	saltUsed   float64 // kg of undissolved salt gone since the last
	saltiest   float64 // uS/cm of the first soft water after it
}

// notes is what a run showed.
type notes struct {
	cycles       []cycle
	inlet, drain float64 // L
	service      float64
	soft         float64
	serviceDrain float64 // L to the drain outside regenerations
	hardest      float64 // mg/L, of soft water outside regenerations
	levelHighest float64
	meanHardness float64 // of soft water by volume
	minOutlet    float64 // kPa
	loss         float64 // kPa, mean from inlet to outlet while 10 L/min run
	asleep       time.Duration
	motor        time.Duration
	flooded      bool
	last         State
}

// live runs p for some days with the demand, and calls script, which may break
// things, at every midnight.
func live(p *Plant, days int, demand func(time.Time) float64, script func(day int)) notes {
	n := notes{minOutlet: math.Inf(1)}
	at := monday
	var open *cycle
	salt := p.Salt()
	var lossTime float64
	fresh := false
	for i := range days * 8640 {
		if i%8640 == 0 && script != nil {
			script(i / 8640)
		}
		before := p.state.BrineLevel
		d := Draw{Soft: demand(at), SupplyPressure: 400, Temperature: 12, Local: at}
		s := p.Step(tick, d)
		at = at.Add(tick)
		n.inlet += s.InletFlow / 6
		n.drain += s.DrainFlow / 6
		n.service += s.ServiceFlow / 6
		n.soft += s.SoftFlow / 6
		n.meanHardness += s.SoftHardness * s.SoftFlow / 6
		n.levelHighest = max(n.levelHighest, s.BrineLevel)
		n.minOutlet = min(n.minOutlet, s.OutletPressure)
		n.flooded = n.flooded || s.FloorWet
		switch {
		case s.ValvePower == 0:
			n.asleep += tick
		case s.ValvePower > 2*idleWatts:
			n.motor += tick
		}
		if s.SoftFlow > 1 && !s.Regenerating {
			n.hardest = max(n.hardest, s.SoftHardness)
			n.loss += s.InletPressure - s.OutletPressure
			lossTime++
			if fresh && len(n.cycles) > 0 {
				c := &n.cycles[len(n.cycles)-1]
				c.saltiest = max(c.saltiest, s.SoftConductivity)
				fresh = c.end.Add(8 * time.Hour).After(at)
			}
		}
		switch {
		case s.Regenerating && open == nil:
			open = &cycle{begin: at.Add(-tick), before: before, levelLow: before}
		case !s.Regenerating && open != nil:
			open.end, open.levelEnd, open.saltUsed = at, s.BrineLevel, salt-p.Salt()
			salt = p.Salt()
			n.cycles = append(n.cycles, *open)
			open = nil
			fresh = true
		}
		if open != nil {
			open.drain += s.DrainFlow / 6
			open.levelLow = min(open.levelLow, s.BrineLevel)
		} else {
			n.serviceDrain += s.DrainFlow / 6
		}
		n.last = s
	}
	n.meanHardness /= max(n.soft, 1)
	n.loss /= max(lossTime, 1)
	return n
}

func defaultHome() detect.Home { return detect.DefaultHome("a", time.UTC) }

func TestHealthyHomeForAMonth(t *testing.T) {
	h := defaultHome()
	p := New(h, Setup{})
	n := live(p, 30, washes(500), nil)
	// 28.3 L x 0.9 eq/L x 50.04 g/eq over 300 mg/L is 4,249 L; less a fifth
	// kept in reserve, 3,399 L, which 500 L a day use up in the seventh day.
	if len(n.cycles) != 4 {
		t.Fatalf("%d regenerations in 30 days, want 4", len(n.cycles))
	}
	for i, c := range n.cycles {
		if c.begin.Hour() != 2 || c.begin.Minute() != 0 || c.begin.YearDay()-monday.YearDay() != 7*(i+1) {
			t.Errorf("regeneration %d began at %v", i, c.begin)
		}
		if d := c.end.Sub(c.begin) - h.Softener.ProgrammeLength(); d < -time.Minute || d > 2*time.Minute {
			t.Errorf("regeneration %d took %v", i, c.end.Sub(c.begin))
		}
		if c.drain < 150 || c.drain > 280 {
			t.Errorf("%.0f L to the drain", c.drain)
		}
		if math.Abs(c.saltUsed-2.7) > 0.2 && i > 0 {
			t.Errorf("%.2f kg of salt, the dose is 2.7", c.saltUsed)
		}
		if math.Abs(c.levelLow-DefaultPickup) > 1 || c.before < 140 || c.before > 190 {
			t.Errorf("brine from %.0f to %.0f mm", c.before, c.levelLow)
		}
	}
	// Within 1 grain per gallon: NSF/ANSI 44 as described by R. Andrew, WC&P.
	if n.hardest > detect.MgPerGrainPerGallon {
		t.Errorf("soft water of up to %.1f mg/L", n.hardest)
	}
	if n.serviceDrain > 5 || n.flooded || n.asleep > 0 {
		t.Errorf("in service %.1f L to the drain, flooded %v, asleep %v", n.serviceDrain, n.flooded, n.asleep)
	}
}

func TestWaterIsInTheBooks(t *testing.T) {
	h := defaultHome()
	p := New(h, Setup{Seed: 3, Scatter: 0.05})
	tank := p.tank.Water()
	n := live(p, 20, washes(700), nil)
	if d := n.inlet - n.service; math.Abs(d) > 1e-6*n.inlet {
		t.Errorf("inlet and service differ by %g L though nothing is tapped before", d)
	}
	// Water into the softener leaves by tap or drain or stays in the tank; what
	// is drawn as brine carries salt, which takes up room.
	gained := p.tank.Water() - tank
	if d := n.service - n.soft - n.drain - gained; d > 0.5 || d < -0.15*7.6*float64(len(n.cycles)+1) {
		t.Errorf("%.2f L missing of %.0f, %d regenerations", d, n.service, len(n.cycles))
	}
}

func TestHardnessIsInTheBooks(t *testing.T) {
	p := New(defaultHome(), Setup{})
	b := p.beds[0]
	p.flush()
	start := b.column.Holds()
	raw := p.source.water
	n := live(p, 6, washes(500), nil) // up to the first regeneration
	p.flush()
	took := b.column.Holds().Hardness() - start.Hardness()
	gave := n.soft * (raw.Hardness() - n.meanHardness/mgPerEquivalent)
	// The state shows hardness once per chunk of service, so the sum over steps
	// is a little off.
	if math.Abs(took/gave-1) > 2e-3 {
		t.Errorf("resin took %.4f eq, water lost %.4f", took, gave)
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	p := New(defaultHome(), Setup{})
	demand := washes(900)
	at := monday
	if got := testing.AllocsPerRun(20*8640, func() {
		p.Step(tick, Draw{Soft: demand(at), SupplyPressure: 400, Temperature: 12, Local: at})
		at = at.Add(tick)
	}); got != 0 {
		t.Errorf("%v allocations a step", got)
	}
}

func TestStepSizeMattersLittle(t *testing.T) {
	run := func(dt time.Duration) (drain, salt float64) {
		p := New(defaultHome(), Setup{})
		demand := washes(600)
		before := p.Salt()
		for at := monday; at.Before(monday.AddDate(0, 0, 15)); at = at.Add(dt) {
			s := p.Step(dt, Draw{Soft: demand(at), SupplyPressure: 400, Temperature: 12, Local: at})
			drain += s.DrainFlow * dt.Minutes()
		}
		return drain, before - p.Salt()
	}
	fineDrain, fineSalt := run(time.Second)
	for _, dt := range []time.Duration{10 * time.Second, time.Minute} {
		drain, salt := run(dt)
		if math.Abs(drain/fineDrain-1) > 0.03 || math.Abs(salt/fineSalt-1) > 0.03 {
			t.Errorf("at %v %.1f L to the drain and %.2f kg of salt, at 1 s %.1f and %.2f", dt, drain, salt, fineDrain, fineSalt)
		}
	}
}

func TestSameSeedSameLife(t *testing.T) {
	run := func(seed uint64) State {
		p := New(defaultHome(), Setup{Seed: seed, Scatter: 0.1})
		p.Set(detect.DriveFailed, 0.3)
		return live(p, 15, washes(600), nil).last
	}
	if run(7) != run(7) {
		t.Error("the same seed gave two lives")
	}
	if run(7) == run(8) {
		t.Error("two seeds gave the same life")
	}
}
