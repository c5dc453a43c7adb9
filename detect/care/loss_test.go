package care_test

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// A toilet that loses half a cup a minute: 45 to 48 gallons a day (DOE Energy
// Saver), here 0.118 L/min, 170 L. At 3 a cubic metre and with 2.7 kg of salt at
// 0.6 for 28.3 L of resin at 0.9 eq/L behind 300 mg/L the reckoning by hand is:
// 0.9 x 28.3 x 50.04 = 1,274.5 g soften 4,248 L, so 170 L take 0.108 kg.
func TestLossOfALeakByHand(t *testing.T) {
	h := detect.DefaultHome("h", time.UTC)
	leak := raised(detect.NightLeak, 0)
	leak.Evidence = detect.Evidence{"litres_per_day": 170.0}
	got := care.Waiting(h, []detect.Alert{leak})
	if got.Water != 170 || math.Abs(got.Salt-0.108) > 0.0005 || got.Hard != 0 || got.Currency != "EUR" || got.Damage != 5 {
		t.Errorf("%+v", got)
	}
	if want := 0.170*3 + 0.108*0.6 + 5; math.Abs(got.PerDay-want) > 0.001 {
		t.Errorf("%v a day, want %v", got.PerDay, want)
	}
}

// What runs down a toilet costs water; what leaves a pipe costs the floor.
func TestOnlyPipesThreatenTheHouse(t *testing.T) {
	h := detect.DefaultHome("h", time.UTC)
	toilet, pipe := raised(detect.NightLeak, 0, detect.FlapperLeak), raised(detect.NightLeak, 0, detect.SupplyLineLeak)
	if got := care.Waiting(h, []detect.Alert{toilet}); got.Damage != 0 {
		t.Errorf("a toilet: %+v", got)
	}
	if got := care.Waiting(h, []detect.Alert{pipe}); math.Abs(got.Damage-45) > 1e-9 { // 0.9 x 0.01 x 5000
		t.Errorf("a pipe: %+v", got)
	}
}

func TestLossCountsTheSameWaterOnce(t *testing.T) {
	h := detect.DefaultHome("h", time.UTC)
	leak, drain := raised(detect.NightLeak, 0), raised(detect.DrainRunning, 0)
	leak.Evidence = detect.Evidence{"litres_per_day": 170.0}
	drain.Evidence = detect.Evidence{"litres_per_day": 180.0}
	if got := care.Waiting(h, []detect.Alert{leak, drain}); got.Water != 180 {
		t.Errorf("%v L, want the larger alone", got.Water)
	}
	if got := care.Waiting(h, []detect.Alert{over(leak, 1), over(drain, 1)}); got.PerDay != 0 {
		t.Errorf("%+v of what is over", got)
	}
}

// What threatens the house comes before what costs water, and that before what
// only costs comfort.
func TestOrderOfLosses(t *testing.T) {
	h := detect.DefaultHome("h", time.UTC)
	last := math.Inf(1)
	for _, k := range []detect.Kind{detect.FloorWetKind, detect.BrineHigh, detect.HardWater, detect.SaltDrawLow, detect.SensorClock} {
		a := raised(k, 0)
		a.Evidence = detect.Evidence{"hard_share": math.NaN(), "litres_per_day": "many"} // and odd evidence does no harm
		got := care.Waiting(h, []detect.Alert{a})
		if got.PerDay >= last || math.IsNaN(got.PerDay) {
			t.Errorf("%s costs %v a day, no less than what comes before it, %v", k, got.PerDay, last)
		}
		last = got.PerDay
	}
}

func TestEveryFindingHasWords(t *testing.T) {
	seen := map[string]detect.Kind{}
	for _, k := range detect.Kinds() {
		title := care.Title(k)
		if other, twice := seen[title]; twice || len(title) > 60 || title == "" {
			t.Errorf("%s: %q, which is also that of %q", k, title, other)
		}
		seen[title] = k
	}
}
