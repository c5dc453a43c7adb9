package engine

import (
	"slices"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// Advice goes by what was measured at the home, not by what its profile says.
func TestAdviceGoesByWhatWasMeasured(t *testing.T) {
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	advise := func(measured bool) resin.Advice {
		h := detect.DefaultHome("a", time.UTC) // 300 mg/L, no iron
		h.Meters.Service = &detect.Meter{Pulse: 1}
		e := New([]detect.Home{h}, Options{})
		for minute := range 10 * 1440 {
			at := start.Add(time.Duration(minute) * time.Minute)
			flow := 0.0
			if minute%1440 >= 420 && minute%1440 < 480 {
				flow = 5 // 300 L a day
			}
			e.Observe(detect.Reading{Home: "a", Signal: detect.ServiceFlow, Time: at, Value: flow})
			if measured && minute == 2000 {
				e.Observe(detect.Reading{Home: "a", Signal: detect.RawHardness, Time: at, Value: 500})
				e.Observe(detect.Reading{Home: "a", Signal: detect.RawIron, Time: at, Value: 1})
			}
		}
		e.Flush("a")
		a, ok := e.Advice("a")
		b, known := e.Books("a")
		if !ok || !known {
			t.Fatal("the home is not known")
		}
		if from := b.Advice(&h); from.Hardness != a.Hardness || from.Advised.Dose != a.Advised.Dose || b.Raw.HardnessMeasured != measured || b.Raw.IronMeasured != measured {
			t.Errorf("the books advise %+v of %+v, the engine %+v", from, b.Raw, a)
		}
		return a
	}
	by, without := advise(true), advise(false)
	if without.Hardness != 300 {
		t.Errorf("by the profile: %g mg/L", without.Hardness)
	}
	// 500 mg/L and 4 grains per gallon for the iron, as common practice sets.
	if want := 500 + 4*detect.MgPerGrainPerGallon; by.Hardness != want {
		t.Errorf("as measured: %g mg/L, want %g", by.Hardness, want)
	}
	if slices.Contains(by.Notes, resin.NoteUseUnknown) || by.Present.CostPerYear <= without.Present.CostPerYear || !slices.Contains(by.Notes, resin.NoteIronWeekly) {
		t.Errorf("harder water: %+v\nthan %+v", by, without)
	}
	if _, ok := New(nil, Options{}).Advice("nobody"); ok {
		t.Error("advice for an unknown home")
	}
}
