package plant

import (
	"testing"
	"time"

	"brinebell/detect"
)

func TestMeteredImmediateRegeneratesWhenUsedUp(t *testing.T) {
	h := defaultHome()
	h.Softener.Control = detect.MeteredImmediate
	n := live(New(h, Setup{}), 20, washes(500), nil)
	// 4,249 L at 500 L a day: in the morning of the ninth day.
	if len(n.cycles) != 2 || n.cycles[0].begin.Day() != 10 || n.cycles[0].begin.Hour() != 7 {
		t.Errorf("%d regenerations, the first %v", len(n.cycles), n.cycles)
	}
}

func TestTimedRegeneratesByTheDay(t *testing.T) {
	h := defaultHome()
	h.Softener.Control, h.Softener.DaysOverride = detect.Timed, 5
	n := live(New(h, Setup{}), 22, washes(100), nil)
	if len(n.cycles) != 4 {
		t.Fatalf("%d regenerations in 22 days", len(n.cycles))
	}
	for i := 1; i < len(n.cycles); i++ {
		if d := n.cycles[i].begin.Sub(n.cycles[i-1].begin); d != 5*24*time.Hour {
			t.Errorf("%v apart", d)
		}
	}
}

func TestDaysOverrideWithoutUse(t *testing.T) {
	n := live(New(defaultHome(), Setup{}), 30, washes(0), nil)
	if len(n.cycles) != 2 {
		t.Errorf("%d regenerations in 30 idle days, override is 14", len(n.cycles))
	}
}

func TestAlternatingTanksNeverServeHardWater(t *testing.T) {
	h := defaultHome()
	h.Softener.Alternating, h.Softener.Control = true, detect.MeteredImmediate
	p := New(h, Setup{})
	var hardest float64
	demand := washes(900)
	at, washed := monday, 0
	for range 20 * 8640 {
		s := p.Step(tick, Draw{Soft: demand(at) + 0.5, SupplyPressure: 400, Temperature: 12, Local: at})
		hardest = max(hardest, s.SoftHardness)
		if s.Regenerating && s.DrainFlow > 5 {
			washed++
		}
		at = at.Add(tick)
	}
	if hardest > detect.MgPerGrainPerGallon || washed == 0 {
		t.Errorf("up to %.1f mg/L, %d steps of washing", hardest, washed)
	}
}

func TestSingleTankServesHardWaterWhileItRegenerates(t *testing.T) {
	p := New(defaultHome(), Setup{})
	p.Regenerate()
	var s State
	at := monday
	for range 30 {
		s = p.Step(tick, Draw{Soft: 5, SupplyPressure: 400, Temperature: 12, Local: at})
		at = at.Add(tick)
	}
	if !s.Regenerating || s.SoftHardness != 300 {
		t.Errorf("%+v", s)
	}
}

func TestRefillBeforeDrawsAtTheHour(t *testing.T) {
	h := defaultHome()
	h.Softener.RefillBefore = true
	p := New(h, Setup{})
	demand := washes(500)
	at := monday
	var firstDrain, firstFill time.Time
	level := p.state.BrineLevel
	for range 9 * 8640 {
		s := p.Step(tick, Draw{Soft: demand(at), SupplyPressure: 400, Temperature: 12, Local: at})
		if firstDrain.IsZero() && s.DrainFlow > 5 {
			firstDrain = at
		}
		if firstFill.IsZero() && s.BrineLevel > level+1 {
			firstFill = at
		}
		at = at.Add(tick)
	}
	if d := firstDrain.Sub(firstDrain.Truncate(24*time.Hour)) - 2*time.Hour; d < 0 || d > time.Minute {
		t.Errorf("backwash began at %v", firstDrain)
	}
	if d := firstDrain.Sub(firstFill); d < 2*time.Hour || d > 130*time.Minute {
		t.Errorf("refill came %v ahead", d)
	}
	if got := p.state.BrineLevel; got > DefaultPickup+1 {
		t.Errorf("liquid stands at %.0f mm between regenerations", got)
	}
}

// The clock is the house's, summer time included: Dublin moved to it on 29
// March 2026.
func TestRegeneratesAtLocalNightAcrossSummerTime(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Skip(err)
	}
	h := detect.DefaultHome("a", loc)
	h.Softener.Control, h.Softener.DaysOverride = detect.Timed, 1
	h.Softener.RegenerationTime = 4 * time.Hour
	p := New(h, Setup{})
	was := false
	begun := 0
	for at := time.Date(2026, 3, 27, 0, 0, 0, 0, loc); at.Before(time.Date(2026, 4, 1, 0, 0, 0, 0, loc)); at = at.Add(tick) {
		s := p.Step(tick, Draw{SupplyPressure: 400, Temperature: 12, Local: at})
		if s.Regenerating && !was {
			begun++
			if at.Hour() != 4 || at.Minute() != 0 {
				t.Errorf("began at %v", at)
			}
		}
		was = s.Regenerating
	}
	if begun != 5 {
		t.Errorf("%d regenerations in five days", begun)
	}
}

func TestPowerLossStopsProgrammeAndClock(t *testing.T) {
	p := New(defaultHome(), Setup{})
	p.Regenerate()
	at := monday
	step := func(n int) (s State) {
		for range n {
			s = p.Step(tick, Draw{SupplyPressure: 400, Temperature: 12, Local: at})
			at = at.Add(tick)
		}
		return s
	}
	step(30)
	p.Set(detect.NoPower, 1)
	if s := step(360); s.DrainFlow < 5 || s.ValvePower != 0 {
		t.Errorf("an hour after the power went in mid-backwash: %.1f L/min, %.1f W", s.DrainFlow, s.ValvePower)
	}
	if p.control.error > -3599 {
		t.Errorf("clock off by %v s after an hour without power", p.control.error)
	}
	p.Set(detect.NoPower, 0)
	if s := step(8640); s.Regenerating || s.DrainFlow > 0 {
		t.Errorf("a day after the power came back: %+v", s)
	}
}

// Putting the clock right in the morning, after a night without power, is no
// reason to regenerate.
func TestTurningTheHandsStrikesNothing(t *testing.T) {
	h := defaultHome()
	h.Softener.Control, h.Softener.DaysOverride = detect.Timed, 1
	p := New(h, Setup{})
	n := live(p, 2, washes(0), func(day int) { p.Set(detect.NoPower, float64(1-day)) })
	if len(n.cycles) != 1 || n.cycles[0].begin.Hour() != 2 || n.cycles[0].begin.Day() != 3 {
		t.Errorf("%+v", n.cycles)
	}
	at := monday.AddDate(0, 0, 2)
	p.Set(detect.NoPower, 1)
	for range 8 * 360 {
		p.Step(tick, Draw{SupplyPressure: 400, Temperature: 12, Local: at})
		at = at.Add(tick)
	}
	p.Set(detect.NoPower, 0)
	for range 360 {
		if s := p.Step(tick, Draw{SupplyPressure: 400, Temperature: 12, Local: at}); s.Regenerating {
			t.Fatalf("regenerates at %v", at)
		}
		at = at.Add(tick)
	}
}

func TestWrongDoseIsAWrongRefillTime(t *testing.T) {
	length := func(severity float64) time.Duration {
		p := New(defaultHome(), Setup{})
		p.Set(detect.SettingDose, severity)
		c := live(p, 8, washes(500), nil).cycles[0]
		return c.end.Sub(c.begin)
	}
	if short, right := length(1), length(0); right-short != 140*time.Second {
		t.Errorf("%v instead of %v; 60 %% of 4 minutes are missing", short, right)
	}
}

func TestDriveThatFailsHalfwayLeavesTheDrainRunning(t *testing.T) {
	p := New(defaultHome(), Setup{})
	p.Regenerate()
	at := monday
	step := func(n int) (s State) {
		for range n {
			s = p.Step(tick, Draw{SupplyPressure: 400, Temperature: 12, Local: at})
			at = at.Add(tick)
		}
		return s
	}
	step(12)
	p.Set(detect.DriveFailed, 1)
	if s := step(3 * 8640); !s.Regenerating || s.DrainFlow < 5 {
		t.Errorf("three days on: %+v", s)
	}
	p.Set(detect.DriveFailed, 0)
	if s := step(10); s.Regenerating || s.DrainFlow > 0 {
		t.Errorf("repaired: %+v", s)
	}
}

func TestHourStrikes(t *testing.T) {
	const two = 7200
	for _, at := range []struct {
		from, to int64
		want     bool
	}{{7190, 7200, true}, {7200, 7210, false}, {7199, 7205, true}, {86390, 5, false}, {86390, 7200, true}, {7210, 7190, false}, {0, 86390, false}} {
		if got := passed(at.from, at.to, two); got != at.want {
			t.Errorf("from %d to %d: %v", at.from, at.to, got)
		}
	}
	if !passed(86390, 0, 0) || passed(0, 10, 0) {
		t.Error("midnight is missed or struck twice")
	}
}
