package household

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
)

// empty is a household that uses nothing, so that only leaks flow.
func empty() Household {
	h := Draw(1, 1, Population{NoHolidays: true}, time.UTC)
	h.People, h.Washer.Fills, h.Dishwasher = nil, nil, nil
	return h
}

// leaked is what a fault lets out of an empty home in a day, and how often it
// began to flow.
func leaked(t *testing.T, c detect.Cause, severity, pressure float64) (litres float64, spells int) {
	t.Helper()
	d := Play(empty(), monday, false)
	d.Set(c, severity, monday)
	end, flowing := monday.AddDate(0, 0, 1).UnixMilli(), false
	for now := monday.UnixMilli(); now < end; {
		soft, bypassed, until := d.Flow(now, pressure)
		if until <= now {
			t.Fatalf("%s: time stands still at %d", c, now)
		}
		until = min(until, end)
		litres += (soft + bypassed) * float64(until-now) / 60000
		if on := soft > 0; on != flowing {
			flowing = on
			if on {
				spells++
			}
		}
		now = until
	}
	return litres, spells
}

func TestLeaksLoseWhatTheirSeveritySays(t *testing.T) {
	for _, c := range []detect.Cause{detect.FlapperLeak, detect.DrippingFixture, detect.SupplyLineLeak, detect.FixtureLeftOpen} {
		for _, severity := range []float64{0.01, 0.3, 0.7, 1} {
			want := LeakFlow(c, severity) * 1440
			got, spells := leaked(t, c, severity, 414)
			if math.Abs(got/want-1) > 0.08 {
				t.Errorf("%s at %.2f lost %.1f L in a day, not %.1f", c, severity, got, want)
			}
			if refills := c == detect.FlapperLeak; refills == (spells == 1) {
				t.Errorf("%s at %.2f flowed in %d spells", c, severity, spells)
			}
			if back := LeakSeverity(c, LeakFlow(c, severity)); math.Abs(back-severity) > 0.02 {
				t.Errorf("%s: severity %.3f comes back as %.3f", c, severity, back)
			}
		}
	}
}

// Sizes of leaks that are published lie within reach of the severities:
// Durant, Oklahoma, for a hole of 1/8 in at 60 psi (3,200 gal/day), DOE Energy
// Saver for half a cup a minute at a toilet (45-48 gal/day), USGS for one drip a
// second of 0.33 mL.
func TestPublishedLeaksAreWithinReach(t *testing.T) {
	for _, c := range []struct {
		cause     detect.Cause
		perMinute float64
	}{
		{detect.SupplyLineLeak, 3200 * litresPerGallon / 1440},
		{detect.SupplyLineLeak, 800 * litresPerGallon / 1440},
		{detect.FlapperLeak, 46 * litresPerGallon / 1440},
		{detect.FlapperLeak, 200 * litresPerGallon / 1440},
		{detect.DrippingFixture, 60 * 0.33e-3},
	} {
		s := LeakSeverity(c.cause, c.perMinute)
		if got := LeakFlow(c.cause, s); math.Abs(got/c.perMinute-1) > 0.01 {
			t.Errorf("%s of %.3f L/min comes out as %.3f", c.cause, c.perMinute, got)
		}
	}
}

// Flow through a hole goes with the square root of the pressure.
func TestHoleFollowsPressure(t *testing.T) {
	low, _ := leaked(t, detect.SupplyLineLeak, 0.5, 207)
	high, _ := leaked(t, detect.SupplyLineLeak, 0.5, 414)
	if ratio := high / low; math.Abs(ratio-math.Sqrt2) > 0.01 {
		t.Errorf("twice the pressure gives %.3f of the flow", ratio)
	}
}

func TestHealedLeakStops(t *testing.T) {
	d := Play(empty(), monday, false)
	d.Set(detect.FlapperLeak, 0.9, monday)
	for now := monday.UnixMilli(); now < monday.Add(time.Hour).UnixMilli(); {
		_, _, now = d.Flow(now, 400)
	}
	d.Set(detect.FlapperLeak, 0, monday.Add(time.Hour))
	now := monday.Add(2 * time.Hour).UnixMilli()
	if soft, _, until := d.Flow(now, 400); soft != 0 || until < monday.AddDate(0, 0, 1).UnixMilli() {
		t.Errorf("%.2f L/min flow after the repair, until %d", soft, until)
	}
}
