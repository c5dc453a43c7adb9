package finding

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
)

// withTop has a sensor over the salt that sinks by so many mm a cycle.
func (l *life) withTop(n, days int, from, sink float64) *life {
	for i := range n {
		l.base[detect.SaltLevel] = from - sink*float64(i)
		l.cycles(1, days, 1.05)
	}
	return l
}

// poreless makes the level move as in a tank without salt: 2.23 times the area,
// by the default tank's 460 mm, well of 100 mm and void share of 0.42.
func (l *life) poreless() *life {
	l.cycle.LevelStart, l.cycle.LevelEnd, l.cycle.BrineLitres, l.cycle.RefillLitres = 97, 97, sound/2.23, 7.6/2.23
	return l
}

// swollen makes the level move by so many times as much, both ways.
func (l *life) swollen(times float64) *life {
	c := &l.cycle
	c.LevelStart = c.LevelLowest + times*(c.LevelStart-c.LevelLowest)
	c.LevelEnd = c.LevelLowest + times*(c.LevelEnd-c.LevelLowest)
	c.BrineLitres, c.RefillLitres = times*c.BrineLitres, times*c.RefillLitres
	return l
}

func TestSaltBridge(t *testing.T) {
	// A dose of 2.7 kg is 13.6 mm of the default tank's bed: 460 mm across less the
	// well, 58 % of it halite at 2.165 kg/L.
	for _, p := range []plot{
		{"salt sinks", nil, func(l *life) { l.withTop(8, 5, 600, 13.6) }, ""},
		{"it sinks unevenly", nil, func(l *life) {
			for i := range 4 {
				l.withTop(1, 5, 600-27*float64(i), 0).withTop(1, 5, 595-27*float64(i), 0)
			}
		}, ""},
		{"it stands", nil, func(l *life) { l.withTop(3, 5, 600, 13.6).withTop(4, 5, 560, 0) }, "+salt_bridge "},
		{"it stands under water", nil, func(l *life) { l.withTop(6, 5, 165, 0) }, ""},
		{"filled up each time", nil, func(l *life) { l.withTop(6, 5, 500, -60) }, ""},
		{"broken again", nil, func(l *life) { l.withTop(5, 5, 600, 0).withTop(3, 5, 450, 13.6) }, "+salt_bridge -salt_bridge "},
		{"nobody sees the salt, the level moves as ever", nil, func(l *life) { l.cycles(8, 5, 1.05) }, ""},
		{"nobody sees the salt, no pores", nil, func(l *life) { l.cycles(4, 5, 1.05).poreless().cycles(3, 5, 1.05) }, "+salt_bridge "},
		{"no pores from the first day", nil, func(l *life) { l.poreless().cycles(3, 5, 1.05) }, "+salt_bridge "},
		{"pores fill with sludge", nil, func(l *life) { l.cycles(5, 5, 1.05).swollen(1.3).cycles(4, 5, 1.05) }, "+salt_bridge "},
		{"little by little", nil, func(l *life) {
			l.cycles(5, 5, 1.05)
			for range 6 {
				l.swollen(1.05).cycles(1, 5, 1.05)
			}
		}, "+salt_bridge "},
		{"they are cleaned out", nil, func(l *life) {
			whole := l.cycle
			l.cycles(5, 5, 1.05).swollen(1.4).cycles(3, 5, 1.05)
			l.cycle = whole
			l.cycles(2, 5, 1.05)
		}, "+salt_bridge -salt_bridge "},
		{"a tank of narrower pores than the profile's", nil, func(l *life) { l.swollen(1.25).cycles(8, 5, 1.05) }, ""},
		{"more is drawn and no more refilled", nil, func(l *life) {
			l.cycles(5, 5, 1.05)
			l.cycle.LevelStart, l.cycle.BrineLitres = 200, 1.35*sound
			l.cycles(5, 5, 1.05)
		}, ""},
		{"a plugged injector draws less and is refilled", nil, func(l *life) {
			l.cycles(4, 5, 1.05)
			l.cycle.LevelLowest, l.cycle.LevelEnd, l.cycle.BrineLitres = 110, 224, 3.7
			l.cycles(4, 5, 1.05)
		}, ""},
		{"and the float stops the refill", nil, func(l *life) {
			l.cycle.LevelStart, l.cycle.LevelEnd, l.cycle.LevelLowest = 345, 345, 231
			l.cycles(4, 5, 1.05)
			l.cycle.LevelLowest, l.cycle.BrineLitres, l.cycle.RefillLitres = 295, 3.7, 3.3
			l.cycles(4, 5, 1.05)
		}, ""},
		{"salt filled in", nil, func(l *life) {
			whole := l.cycle
			l.cycles(4, 5, 1.05).poreless().cycles(3, 5, 1.05)
			l.cycle = whole
			l.cycles(1, 5, 1.05)
		}, "+salt_bridge -salt_bridge "},
	} {
		p.check(t, func() Detector { return &SaltBridgeWatch{} })
	}
}

// A dose set lower refills for a shorter time.
func TestChangedDoseIsNoBridge(t *testing.T) {
	home := detect.DefaultHome("h", time.UTC)
	l := newLife(&SaltBridgeWatch{}, home)
	l.cycles(5, 5, 1.05)
	l.poreless()
	d := l.detector.(*SaltBridgeWatch)
	d.Refilled.Minutes.Mean = math.Log(2.2) // what it took before, over what it takes now
	l.cycles(4, 5, 1.05)
	if said := l.raisings(); said != "" {
		t.Error(said)
	}
}

func TestBrineHigh(t *testing.T) {
	rise := func(l *life, hours int, perHour float64) {
		for range hours {
			l.base[detect.BrineLevel] += perHour
			l.minutes(60, nil)
		}
	}
	for _, p := range []plot{
		{"still", nil, func(l *life) { l.cycles(4, 5, 1) }, ""},
		{"above the float", nil, func(l *life) { l.base[detect.BrineLevel] = 390; l.minutes(300, nil) }, "+brine_high "},
		{"at the float", nil, func(l *life) { l.base[detect.BrineLevel] = 365; l.minutes(3000, nil) }, ""},
		{"no float", func(h *detect.Home) { h.BrineTank.Float = 0 }, func(l *life) { l.base[detect.BrineLevel] = 390; l.minutes(3000, nil) }, ""},
		{"seeping", nil, func(l *life) { l.minutes(300, nil); rise(l, 60, 2) }, "+brine_high "},
		{"salt dissolving", nil, func(l *life) { l.minutes(300, nil); rise(l, 15, 1); l.minutes(2000, nil) }, ""},
		{"a bag of salt", nil, func(l *life) { l.minutes(300, nil); l.base[detect.BrineLevel] += 70; l.minutes(2000, nil) }, ""},
		{"and dry again", nil, func(l *life) {
			l.base[detect.BrineLevel] = 390
			l.minutes(300, nil)
			l.base[detect.BrineLevel] = 200
			l.minutes(1000, nil)
		}, "+brine_high -brine_high "},
		{"left undrawn", nil, func(l *life) {
			l.cycles(5, 5, 1)
			l.cycle.LevelLowest = 130
			l.cycles(3, 5, 1)
		}, "+brine_high "},
		{"a larger dose draws as deep", nil, func(l *life) {
			l.cycles(5, 5, 1)
			l.cycle.LevelEnd, l.cycle.LevelStart, l.cycle.BrineLitres = 240, 240, 14
			l.cycles(3, 5, 1)
		}, ""},
	} {
		p.check(t, func() Detector { return &BrineHighWatch{} })
	}
	l := newLife(&BrineHighWatch{}, detect.DefaultHome("h", time.UTC))
	l.base[detect.BrineLevel] = 780
	l.minutes(300, nil)
	if len(l.verdicts) != 1 || l.verdicts[0].Severity != detect.ActNow {
		t.Errorf("60 mm below the rim: %+v", l.verdicts)
	}
}

func TestSaltUse(t *testing.T) {
	for _, p := range []plot{
		{"as explained", nil, func(l *life) { l.cycles(14, 6, 1.05) }, ""},
		{"guests use more water, and their salt", nil, func(l *life) { l.cycles(7, 6, 1.05).cycles(7, 3, 1.05).cycles(5, 6, 1.05) }, ""},
		{"a holiday", nil, func(l *life) { l.cycles(7, 6, 1.05).days(13, 5).cycles(7, 6, 1.05) }, ""},
		{"three times as often", nil, func(l *life) { l.cycles(7, 6, 1.05).cycles(16, 2, 0.35) }, "+salt_use_high "},
		{"so from the first day", nil, func(l *life) { l.cycles(20, 2, 0.3) }, "+salt_use_high "},
		{"half the brine", nil, func(l *life) { l.cycles(7, 6, 1.05); l.cycle.BrineLitres = 3; l.cycles(7, 6, 1.05) }, "+salt_use_low "},
		{"mended", nil, func(l *life) {
			l.cycles(7, 6, 1.05)
			l.cycle.BrineLitres = 3
			l.cycles(7, 6, 1.05)
			l.cycle.BrineLitres = sound
			l.cycles(7, 6, 1.05)
		}, "+salt_use_low -salt_use_low "},
	} {
		p.check(t, func() Detector { return &SaltUseWatch{} })
	}
}

func TestSaltLow(t *testing.T) {
	for _, p := range []plot{
		{"nobody knows", nil, func(l *life) { l.cycles(8, 5, 1.05) }, ""},
		{"full", nil, func(l *life) { l.withTop(6, 5, 600, 13.6) }, ""},
		{"sinks to the end", nil, func(l *life) { l.withTop(13, 5, 180, 13.6) }, "+salt_low "},
		{"is filled up", nil, func(l *life) { l.withTop(13, 5, 180, 13.6).withTop(2, 5, 650, 13.6) }, "+salt_low -salt_low "},
		{"under water from the first day", nil, func(l *life) { l.base[detect.SaltLevel], l.base[detect.BrineLevel] = 20, 100; l.days(3, 300) }, "+salt_low "},
		{"a deep brine over plenty of salt", nil, func(l *life) {
			l.base[detect.SaltLevel], l.base[detect.BrineLevel] = 330, 345
			l.days(4, 300)
		}, ""},
		{"told and counted", nil, func(l *life) { l.view.Books.Counted(l.minute.Start, 20); l.cycles(5, 5, 1.05) }, "+salt_low "},
	} {
		p.check(t, func() Detector { return &SaltLowWatch{} })
	}
}

// Nobody is told of salt at night, and the alert is not repeated every day.
func TestSaltLowInTheMorning(t *testing.T) {
	l := newLife(&SaltLowWatch{}, detect.DefaultHome("h", time.UTC))
	l.withTop(14, 5, 180, 13.6)
	if len(l.verdicts) < 2 || len(l.verdicts) > 5 {
		t.Errorf("%d verdicts", len(l.verdicts))
		return
	}
	for _, v := range l.verdicts {
		if v.Onset.Hour() != useHour {
			t.Error(v.Onset)
		}
	}
	if first := l.verdicts[0]; first.Evidence["days_left"].(int) < 14 {
		t.Errorf("%+v", first)
	}
	if last := l.verdicts[len(l.verdicts)-1]; last.Severity != detect.ThisWeek {
		t.Errorf("%+v", last)
	}
}
