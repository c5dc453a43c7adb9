package plant

import (
	"testing"
	"time"

	"brinebell/detect"
)

// sight is what someone who knows softeners would find after a month.
type sight struct {
	cause    detect.Cause
	severity float64
	setup    Setup
	what     string
	seen     func(sick, well notes) bool
}

func mean(n notes, of func(cycle) float64) float64 {
	var sum float64
	for _, c := range n.cycles {
		sum += of(c)
	}
	return sum / float64(max(1, len(n.cycles)))
}

func lowest(c cycle) float64   { return c.levelLow }
func standing(c cycle) float64 { return c.before }
func salt(c cycle) float64     { return c.saltUsed }
func drained(c cycle) float64  { return c.drain }

// hourOf is the hour at which the first regeneration began, -1 for none.
func hourOf(n notes) int {
	if len(n.cycles) == 0 {
		return -1
	}
	return n.cycles[0].begin.Hour()
}

func hard(n notes) bool { return n.hardest > 100 }

var sights = []sight{
	{detect.MeterJammed, 1, Setup{}, "the valve counts nothing: it regenerates only when the days run out, and the water turns hard before",
		func(s, w notes) bool { return len(s.cycles) == 2 && hard(s) }},
	{detect.MeterCable, 1, Setup{}, "as with a jammed meter",
		func(s, w notes) bool { return len(s.cycles) == 2 && hard(s) }},
	{detect.NoPower, 1, Setup{}, "the valve draws nothing and never regenerates",
		func(s, w notes) bool { return s.asleep == 30*24*time.Hour && len(s.cycles) == 0 && hard(s) }},
	{detect.BypassLeftOpen, 0.6, Setup{}, "mixed water from the first day, and less of it through the softener",
		func(s, w notes) bool { return s.meanHardness > 150 && s.service < 0.5*s.inlet }},
	{detect.BypassLeftOpen, 1, Setup{}, "raw water, none of it through the softener",
		func(s, w notes) bool { return s.meanHardness > 299 && s.service == 0 && s.drain == 0 }},
	{detect.SaltEmpty, 1, Setup{Salt: 4}, "the salt is gone, brine is water, the house hard",
		func(s, w notes) bool { return s.last.SaltLevel < 5 && hard(s) }},
	{detect.SaltBridge, 1, Setup{}, "the salt's top stands still while brine is drawn, which does not strengthen it",
		func(s, w notes) bool {
			return s.last.SaltLevel > w.last.SaltLevel+40 && mean(s, lowest) < 55 && mean(s, salt) < 0.1 && hard(s)
		}},
	{detect.SaltMush, 0.8, Setup{}, "the same refill stands higher and the brine goes out slowly",
		func(s, w notes) bool { return mean(s, standing) > mean(w, standing)+50 }},
	{detect.InjectorClogged, 1, Setup{}, "little goes to the drain in the draw, no brine is drawn, each refill lifts the level to the float",
		func(s, w notes) bool {
			return mean(s, drained) < 0.7*mean(w, drained) && mean(s, lowest) > 150 && s.levelHighest > 340 && hard(s)
		}},
	{detect.DrainRestricted, 1, Setup{}, "little backwash, back pressure stops the draw, the level rises",
		func(s, w notes) bool {
			return mean(s, drained) < 0.4*mean(w, drained) && mean(s, lowest) > 150 && hard(s)
		}},
	{detect.DrainRestricted, 0.5, Setup{}, "less backwash and rinse, brine is still drawn",
		func(s, w notes) bool {
			return mean(s, drained) < 0.85*mean(w, drained) && mean(s, lowest) < 55
		}},
	{detect.BrineLineAir, 1, Setup{}, "water to the drain as ever, but no brine with it",
		func(s, w notes) bool {
			return mean(s, drained) > 0.9*mean(w, drained) && mean(s, lowest) > 150 && s.levelHighest > 340 && hard(s)
		}},
	{detect.FloatStuck, 0.7, Setup{}, "the tank fills less and gives less salt",
		func(s, w notes) bool {
			return mean(s, standing) < mean(w, standing)-30 && mean(s, salt) < 0.5*mean(w, salt) && hard(s)
		}},
	{detect.FloatStuck, 1, Setup{}, "nothing goes in or out of the brine tank",
		func(s, w notes) bool { return mean(s, lowest) == mean(s, standing) && mean(s, salt) < 0.1 }},
	{detect.BrineValveLeak, 0.5, Setup{}, "the level creeps up to the float, and every regeneration takes too much salt",
		func(s, w notes) bool {
			return s.levelHighest > 340 && !s.flooded && mean(s, salt) > 2*mean(w, salt)
		}},
	{detect.SealsWorn, 0.6, Setup{}, "the drain runs in service, and the water is never quite soft",
		func(s, w notes) bool {
			return s.serviceDrain > 30*24*60*0.3 && s.meanHardness > 25 && s.meanHardness < 100
		}},
	{detect.DriveFailed, 1, Setup{}, "the motor stalls at each attempt and nothing regenerates",
		func(s, w notes) bool {
			return len(s.cycles) == 0 && s.motor > 0 && s.motor < w.motor && s.drain < 1 && hard(s)
		}},
	{detect.ClockWrong, 0.5, Setup{}, "it regenerates at eight in the evening",
		func(s, w notes) bool { return hourOf(s) == 20 }},
	{detect.ClockWrong, 0.5, Setup{SlowClock: true}, "it regenerates at eight in the morning",
		func(s, w notes) bool { return hourOf(s) == 8 }},
	{detect.SettingHardness, 0.9, Setup{}, "it regenerates too seldom and runs out",
		func(s, w notes) bool { return len(s.cycles) < len(w.cycles) && hard(s) }},
	{detect.SettingHardness, 0.9, Setup{SettingsHigh: true}, "it regenerates too often",
		func(s, w notes) bool { return len(s.cycles) > len(w.cycles)+1 && !hard(s) }},
	{detect.SettingDose, 0.8, Setup{}, "too little salt each time",
		func(s, w notes) bool { return mean(s, salt) < 0.65*mean(w, salt) && s.hardest > 2*w.hardest }},
	{detect.SettingDose, 0.6, Setup{SettingsHigh: true}, "too much salt each time",
		func(s, w notes) bool { return mean(s, salt) > 1.4*mean(w, salt) && !hard(s) }},
	{detect.SettingReserve, 1, Setup{}, "it waits until the last litre is counted",
		func(s, w notes) bool { return len(s.cycles) < len(w.cycles) && s.hardest > 2*w.hardest }},
	{detect.ResinFouled, 0.8, Setup{}, "it runs out early though all else is as ever",
		func(s, w notes) bool {
			return hard(s) && len(s.cycles) == len(w.cycles) && mean(s, salt) > 0.95*mean(w, salt)
		}},
	{detect.ResinSpent, 0.8, Setup{}, "it runs out early, and broken beads resist the water",
		func(s, w notes) bool { return hard(s) && s.loss > 1.4*w.loss }},
	{detect.BedClogged, 0.6, Setup{}, "the pressure falls when water is drawn, and some of it channels",
		func(s, w notes) bool { return s.loss > 2*w.loss && s.minOutlet < w.minOutlet-20 && s.hardest > 17 }},
	{detect.SourceChanged, 0.6, Setup{}, "the raw water is harder and rustier than set, and runs through",
		func(s, w notes) bool {
			return s.last.RawHardness > 1.5*w.last.RawHardness && s.last.RawIron > 1 && hard(s)
		}},
}

func TestFaultsShowWhatATechnicianWouldSee(t *testing.T) {
	for _, at := range sights {
		t.Run(string(at.cause)+": "+at.what, func(t *testing.T) {
			month := func(severity float64) notes {
				p := New(defaultHome(), at.setup)
				p.Set(at.cause, severity)
				return live(p, 30, washes(500), func(int) {
					if p.Salt() < 3 {
						p.AddSalt(25)
					}
				})
			}
			well, sick := month(0), month(at.severity)
			if !at.seen(sick, well) {
				t.Errorf("not seen:\nsick %+v\nwell %+v", sick, well)
			}
			if at.seen(well, well) {
				t.Error("seen in a healthy home too")
			}
		})
	}
}

// Every cause that the plant must be told of changes something there.
func TestEveryPlantCauseIsShown(t *testing.T) {
	shown := map[detect.Cause]bool{}
	for _, s := range sights {
		shown[s.cause] = true
	}
	elsewhere := map[detect.Cause]bool{detect.FlapperLeak: true, detect.DrippingFixture: true, detect.SupplyLineLeak: true,
		detect.FixtureLeftOpen: true, detect.SensorFault: true, detect.UseGrew: true, detect.AwayFromHome: true}
	for _, c := range detect.Causes() {
		if shown[c] == elsewhere[c] {
			t.Errorf("%s: shown %v, acts elsewhere %v", c, shown[c], elsewhere[c])
		}
	}
}

func TestCausesElsewhereLeaveThePlantAlone(t *testing.T) {
	p := New(defaultHome(), Setup{})
	for _, c := range []detect.Cause{detect.FlapperLeak, detect.UseGrew, detect.SensorFault, detect.AwayFromHome} {
		p.Set(c, 1)
	}
	if got, want := live(p, 10, washes(500), nil).last, live(New(defaultHome(), Setup{}), 10, washes(500), nil).last; got != want {
		t.Errorf("%+v, healthy %+v", got, want)
	}
}

// A repair brings the home back, whatever broke.
func TestRepairHolds(t *testing.T) {
	for _, c := range detect.Causes() {
		p := New(defaultHome(), Setup{})
		live(p, 20, washes(500), func(day int) {
			switch day {
			case 3:
				p.Set(c, 0.5)
			case 6:
				p.Set(c, 0.9)
			case 19:
				p.Set(c, 0)
			}
		})
		p.valve.start() // a technician regenerates before leaving
		p.began()
		after := live(p, 35, washes(500), func(day int) {
			if day == 0 {
				p.Set(c, 0)
			}
		})
		late := after.cycles
		if len(late) < 3 {
			t.Errorf("%s: %d regenerations in five weeks after the repair", c, len(late))
			continue
		}
		last := late[len(late)-1]
		if last.begin.Hour() != 2 || last.saltUsed < 2.4 || last.saltUsed > 3 || after.last.SoftHardness > detect.MgPerGrainPerGallon || after.last.DrainFlow > 0 {
			t.Errorf("%s: last regeneration %+v, soft water %.1f mg/L", c, last, after.last.SoftHardness)
		}
	}
}
