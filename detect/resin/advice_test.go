package resin

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
)

func even(litres float64) Use {
	u := Use{Heavy: math.NaN()}
	for i := range u.Weekday {
		u.Weekday[i] = litres
	}
	return u
}

// By hand: 300 mg/L and 600 L a day are 3.597 eq; 20,000 grains/ft3 on one ft3
// with a fifth kept back usable 20.7 eq: five and three quarter days, and half a
// day of waiting.
func TestDaysByHand(t *testing.T) {
	daily := Equivalents(600, 300)
	if math.Abs(daily-3.5969) > 0.001 {
		t.Fatalf("600 L at 300 mg/L carry %v eq", daily)
	}
	usable := 28.3168 * 0.9145 * 0.8
	for _, c := range []struct {
		control  detect.Control
		override int
		want     float64
	}{
		{detect.MeteredDelayed, 14, 6.260},
		{detect.MeteredImmediate, 14, 5.760},
		{detect.MeteredDelayed, 4, 4},
		{detect.Timed, 3, 3},
		{detect.Timed, 0, math.Inf(1)},
	} {
		if got := Days(c.control, usable, daily, c.override); !(got == c.want || math.Abs(got-c.want) < 0.005) {
			t.Errorf("%s with override %d: every %v days, want %v", c.control, c.override, got, c.want)
		}
	}
	if Days(detect.MeteredDelayed, usable, 0, 14) != 14 {
		t.Error("an unused softener regenerates by its override")
	}
}

// Nights counted one by one, with days that differ by a third or so, against the
// mean that Days states.
func TestDaysAgainstCountedNights(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, usable := range []float64{4, 7.3, 12} { // in mean days of use
		const cycles = 4000
		nights := 0.0
		for range cycles {
			for used := 0.0; used < usable; nights++ {
				used += 0.5 + r.Float64()*r.Float64()*2 // mean 1
			}
		}
		if got := Days(detect.MeteredDelayed, usable, 1, 0); math.Abs(got/(nights/cycles)-1) > 0.03 {
			t.Errorf("usable for %v days: every %.2f days, counted %.2f", usable, got, nights/cycles)
		}
	}
}

func TestCompensatedHardness(t *testing.T) {
	// 4 gpg per mg/L of iron (common practice) is 68.47 mg/L.
	if got := DefaultCompensation.Hardness(detect.Water{Hardness: 300, Iron: 0.5, Manganese: math.NaN()}); math.Abs(got-334.24) > 0.05 {
		t.Errorf("300 mg/L with 0.5 mg/L of iron counts for %.2f", got)
	}
}

func TestChecksNameTheRuleThatFails(t *testing.T) {
	// 20,000 grains on 6 lb is 3,333 grains/lb: below both California floors.
	failed := func(checks []Check) (names []string) {
		for _, c := range checks {
			if !c.OK {
				names = append(names, c.Name)
			}
			if c.Source == "" || c.Unit == "" {
				t.Errorf("check %s names no source or unit", c.Name)
			}
		}
		return names
	}
	eq := 20000 * 64.79891e-3 / detect.EquivalentCaCO3
	if got := failed(Checks(eq, 6*0.45359237, 45*3.785411784, 5)); !slices.Equal(got, []string{"salt_efficiency_2000", "salt_efficiency_2002"}) {
		t.Errorf("failed %v", got)
	}
	if got := failed(Checks(eq, 5*0.45359237, 120*3.785411784, 2)); !slices.Equal(got, []string{"water_used", "water_used_good_practice", "days_between"}) {
		t.Errorf("failed %v", got)
	}
	if got := failed(Checks(math.NaN(), 2, 100, math.NaN())); len(got) != 5 {
		t.Errorf("what is not known keeps no limit, failed only %v", got)
	}
}

// A softener set to 30,000 grains on 6 lb promises half as much again as the
// dose maintains: a common error, and hard water before every regeneration.
func TestAdviceMendsAnOverstatedCapacity(t *testing.T) {
	h := detect.DefaultHome("a", time.UTC)
	h.Softener.Capacity = 30000 * eqPerGrain
	a := Advise(&h, detect.Water{Hardness: 300}, even(600))
	if !slices.Contains(a.Notes, NoteCapacityAboveDose) || a.Present.HardShare < 0.1 {
		t.Errorf("notes %v, hard share %.2f", a.Notes, a.Present.HardShare)
	}
	if a.Advised.HardShare != 0 || a.Advised.Capacity > a.Advised.Maintained {
		t.Errorf("the advice lets hardness through: %+v", a.Advised)
	}
}

// A wasteful setting of 15 lb/ft3 is answered with less salt and less cost.
func TestAdviceSavesSalt(t *testing.T) {
	h := detect.DefaultHome("a", time.UTC)
	h.Softener.SaltDose, h.Softener.Capacity = 6.8, 31000*eqPerGrain
	a := Advise(&h, detect.Water{Hardness: 300}, even(400))
	if a.Saving() <= 0 || a.Advised.SaltPerYear > 0.8*a.Present.SaltPerYear {
		t.Errorf("present %.0f kg for %.0f, advised %.0f kg for %.0f a year", a.Present.SaltPerYear, a.Present.CostPerYear, a.Advised.SaltPerYear, a.Advised.CostPerYear)
	}
}

func TestAdviceKnowsItsLimits(t *testing.T) {
	h := detect.DefaultHome("a", time.UTC)
	if a := Advise(&h, detect.Water{Hardness: 300}, even(math.NaN())); !slices.Contains(a.Notes, NoteUseUnknown) || a.Advised.Dose != a.Present.Dose {
		t.Error("without a measured use the present setting stands")
	}
	h.Softener.Resin = 6
	if a := Advise(&h, detect.Water{Hardness: 500, Iron: 6}, even(900)); !slices.Contains(a.Notes, NoteBedSmall) || !slices.Contains(a.Notes, NoteIronHigh) {
		t.Errorf("notes %v", a.Notes)
	}
}

func TestAdviceIsDefensibleEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := detect.DefaultHome("a", time.UTC)
		h.Softener.Resin = rapid.Float64Range(10, 60).Draw(t, "resin")
		h.Softener.Control = rapid.SampledFrom([]detect.Control{detect.MeteredDelayed, detect.MeteredImmediate}).Draw(t, "control")
		w := detect.Water{Hardness: rapid.Float64Range(60, 700).Draw(t, "hardness"), Iron: rapid.Float64Range(0, 2).Draw(t, "iron")}
		a := Advise(&h, w, even(rapid.Float64Range(50, 1500).Draw(t, "use")))
		perLitre := 1000 * a.Advised.Dose / h.Softener.Resin
		if a.Advised.Reserve < 0 || a.Advised.Reserve > 0.5 || perLitre < minDose-1e-6 || perLitre > maxAdvisedDose+100/h.Softener.Resin {
			t.Fatalf("advised %+v", a.Advised)
		}
		small := slices.Contains(a.Notes, NoteBedSmall)
		if !small && (a.Advised.Days < DaysGoodPractice || a.Advised.HardShare > 0) {
			t.Fatalf("advised %+v", a.Advised)
		}
		if small && a.Advised.Days >= DaysGoodPractice && a.Advised.HardShare == 0 {
			t.Fatalf("a bed that suffices is called small: %+v", a.Advised)
		}
	})
}
