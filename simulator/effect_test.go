package simulator

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
	"brinebell/simulator/sensor"
)

// broken is one home of a run with a fault from the tenth of thirty days on;
// an empty cause leaves it well.
func broken(t *testing.T, c detect.Cause, severity float64) *Home {
	t.Helper()
	return someHomes(t, 1, 30, "full", func(int) []fault.Fault {
		if c == "" {
			return nil
		}
		return []fault.Fault{{Cause: c, Start: day0.AddDate(0, 0, 10), End: day0.AddDate(0, 0, 30), Severity: severity}}
	})[0]
}

// Water is neither made nor lost between the main and the taps: over a run the
// main's water is the softener's and what went round it.
func TestWaterAddsUp(t *testing.T) {
	h := broken(t, "", 0)
	var inlet, service, drain, soft, bypassed float64
	for h.now < h.end {
		from := h.now
		_, b, _ := h.demand.Flow(h.now, h.weather.pressure)
		h.step()
		minutes := float64(h.now-from) / 60000
		inlet += h.state.InletFlow * minutes
		service += h.state.ServiceFlow * minutes
		drain += h.state.DrainFlow * minutes
		soft += h.state.SoftFlow * minutes
		bypassed += b * minutes
	}
	// The brine tank's stock may change by a dose's water or two.
	if got := soft + bypassed + drain; math.Abs(got-inlet) > 30 || service < soft || drain < 100 {
		t.Errorf("inlet %.1f, service %.1f, taps %.1f, bypassed %.1f, drain %.1f L", inlet, service, soft, bypassed, drain)
	}
}

// Every cause leaves its mark in what the sensors say: the readings before it
// are those of the sound home, those after it are not.
func TestEveryCauseShowsFromItsStartOnly(t *testing.T) {
	well := readings(broken(t, "", 0))
	from := day0.AddDate(0, 0, 10).UnixMilli()
	for _, c := range detect.Causes() {
		ill := readings(broken(t, c, 1))
		differs := int64(math.MaxInt64)
		for i := range min(len(well), len(ill)) {
			if well[i] != ill[i] {
				differs = min(well[i].Arrived, ill[i].Arrived)
				break
			}
		}
		if c == detect.SaltEmpty { // which has less salt from the beginning
			differs = max(differs, from)
		}
		if differs < from || differs == math.MaxInt64 {
			t.Errorf("%s first shows at %s, begun at %s", c, time.UnixMilli(differs).UTC(), day0.AddDate(0, 0, 10))
		}
	}
}

func readings(h *Home) []sensor.Sample { return h.Advance(h.end, nil) }

// day is the last value less the first of a total in the days [from, to).
func total(s []sensor.Sample, signal detect.Signal, from, to int) float64 {
	first, last := math.NaN(), 0.0
	for _, x := range s {
		if x.Signal != signal || x.Measured < day0.AddDate(0, 0, from).UnixMilli() || x.Measured >= day0.AddDate(0, 0, to).UnixMilli() {
			continue
		}
		if first != first {
			first = x.Value
		}
		last = x.Value
	}
	return last - first
}

func TestJammedMeterStandsWhileTheInletGoesOn(t *testing.T) {
	s := readings(broken(t, detect.MeterJammed, 1))
	if inlet, service := total(s, detect.InletVolume, 11, 30), total(s, detect.ServiceVolume, 11, 30); inlet < 1000 || service != 0 {
		t.Errorf("inlet %.1f L, jammed service meter %.1f L", inlet, service)
	}
}

func TestBrokenCableLosesItsShare(t *testing.T) {
	well, ill := readings(broken(t, "", 0)), readings(broken(t, detect.MeterCable, 0.5))
	share := total(ill, detect.ServiceVolume, 10, 30) / total(well, detect.ServiceVolume, 10, 30)
	if share < 0.4 || share > 0.65 { // fewer regenerations, too, pass through it
		t.Errorf("half a contact counts %.2f of the water", share)
	}
}

func TestRunningCisternShowsAtTheInlet(t *testing.T) {
	well, ill := readings(broken(t, "", 0)), readings(broken(t, detect.FlapperLeak, 1))
	more := (total(ill, detect.InletVolume, 10, 30) - total(well, detect.InletVolume, 10, 30)) / 20
	// 0.8 L/min for a day, and the regenerations that it costs.
	if more < 0.95*1152 || more > 1.25*1152 {
		t.Errorf("%.0f L a day more", more)
	}
}

func TestSaltIsBroughtUnlessItRunsOut(t *testing.T) {
	h := someHomes(t, 1, 400, "least", nil)[0]
	least := math.Inf(1)
	for h.now < h.end {
		h.step()
		h.out = h.out[:0]
		least = min(least, h.state.SaltLevel)
	}
	if least < 0.15*h.profile.BrineTank.Height {
		t.Errorf("the salt fell to %.0f mm in a home that looks after it", least)
	}
}

// Salt that is to run out is there until the day from which nobody brings any,
// and gone some regenerations later; the truth says when.
func TestSaltRunsOutAboutWhenItShould(t *testing.T) {
	planned, end := day0.AddDate(0, 0, 30), day0.AddDate(0, 0, 80)
	homes := someHomes(t, 8, 90, "least", func(int) []fault.Fault {
		return []fault.Fault{{Cause: detect.SaltEmpty, Start: planned, End: end, Severity: 1}}
	})
	gone := 0
	for _, h := range homes {
		for h.now < h.end {
			h.step()
			h.out = h.out[:0]
			if left := h.plant.Salt(); h.now < planned.UnixMilli() && left < 0.2*h.salt.dose {
				t.Fatalf("%s: %.2f kg left before nobody brings any", h.profile.ID, left)
			}
		}
		if h.plant.Salt() < 10 {
			t.Errorf("%s: %.1f kg after salt was brought again", h.profile.ID, h.plant.Salt())
		}
		for _, row := range h.Truth() {
			if row.Fault == detect.SaltEmpty {
				gone++
				if row.Start.Before(planned) || !row.End.Equal(end) {
					t.Errorf("%+v", row)
				}
			}
		}
	}
	if gone < 6 {
		t.Errorf("the salt ran out in %d of 8 homes", gone)
	}
}

// In a sound home the water is soft: of what the taps draw, next to nothing is
// drawn when the softener has run out, and no home in a run of many is badly
// sized.
func TestSoundHomesHaveSoftWater(t *testing.T) {
	const hardWater = 60.0 // mg/L, where the USGS class "soft" ends
	for _, h := range someHomes(t, 25, 45, "least", nil) {
		var hard, all float64
		for h.now < h.end {
			from := h.now
			h.step()
			h.out = h.out[:0]
			v := h.state.SoftFlow * float64(h.now-from) / 60000
			all += v
			if h.state.SoftHardness > hardWater && !h.state.Regenerating {
				hard += v
			}
		}
		if hard > 0.03*all {
			t.Errorf("%s: %.1f %% of %.0f L were hard; %+v", h.profile.ID, 100*hard/all, all, h.profile.Softener)
		}
	}
}
