package regeneration

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/series"
)

// drawnMinutes are pieces of steady nonsense, holes and missing hours included.
func drawnMinutes(t *rapid.T) []series.Minute {
	var out []series.Minute
	at := time.Date(2025, 3, 29, 22, 0, 0, 0, time.UTC)
	for range rapid.IntRange(1, 25).Draw(t, "pieces") {
		at = at.Add(time.Duration(rapid.SampledFrom([]int{0, 0, 0, 1, 61, 700}).Draw(t, "gap")) * time.Minute)
		value := func(name string, most float64) float64 {
			if rapid.IntRange(0, 4).Draw(t, name+" known") == 0 {
				return math.NaN()
			}
			return rapid.Float64Range(0, most).Draw(t, name)
		}
		drain, level, power, up := value("drain", 12), value("level", 800), value("power", 12), value("up", 25)
		ramp := rapid.Float64Range(-8, 8).Draw(t, "ramp")
		every := rapid.SampledFrom([]int{1, 1, 2, 5}).Draw(t, "every")
		for k := range rapid.IntRange(1, 150).Draw(t, "minutes") {
			m := series.NewMinute(at)
			if k%every == 0 {
				m.Values[detect.DrainFlow], m.Values[detect.BrineLevel] = drain, level+ramp*float64(k)
				m.Values[detect.ValvePower], m.Values[detect.InletFlow] = power, up
			}
			out = append(out, m)
			at = at.Add(time.Minute)
		}
	}
	return out
}

// drawnHome has some programme or other, down to none at all.
func drawnHome(t *rapid.T) detect.Home {
	h := detect.DefaultHome("drawn", time.UTC)
	h.Softener.RefillBefore = rapid.Bool().Draw(t, "early")
	if rapid.Bool().Draw(t, "at once") {
		h.Softener.Control = detect.MeteredImmediate
	}
	phases := []detect.Phase{detect.Backwash, detect.BrineDraw, detect.SlowRinse, detect.FastRinse, detect.Refill}
	h.Softener.Cycle = nil
	for range rapid.IntRange(0, 12).Draw(t, "steps") {
		h.Softener.Cycle = append(h.Softener.Cycle, detect.ProgrammeStep{
			Phase:    rapid.SampledFrom(phases).Draw(t, "phase"),
			Duration: time.Duration(rapid.IntRange(0, 120).Draw(t, "minutes")) * time.Minute,
			Flow:     rapid.Float64Range(0, 20).Draw(t, "flow"),
		})
	}
	return h
}

// Whatever comes in, records are in order, their parts lie within them, and
// volumes and confidence are possible.
func TestAnythingGivesPossibleRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		home := drawnHome(t)
		r := New(&home)
		var last time.Time
		check := func(rec *Record) {
			if rec == nil {
				return
			}
			if err := possible(rec, last); err != nil {
				t.Fatalf("%v: %+v", err, *rec)
			}
			last = rec.End
		}
		for _, m := range drawnMinutes(t) {
			check(r.Step(&m))
			if o, ok := r.Ongoing(); ok && !(o.Probability > 0 && o.Probability <= 1) {
				t.Fatalf("%+v", o)
			}
		}
		check(r.Flush())
	})
}

// possible says what is wrong with a record that follows one that ended at last.
func possible(rec *Record, last time.Time) error {
	switch {
	case rec.Confidence < 0.5 || rec.Confidence > 1:
		return fmt.Errorf("confidence")
	case !rec.End.After(rec.Start):
		return fmt.Errorf("ends before it starts")
	case rec.Start.Before(last.Add(-2 * time.Minute)):
		return fmt.Errorf("overlaps the one before")
	case rec.BrineLitres < 0 || rec.RefillLitres < 0 || rec.DrainLitres < 0:
		return fmt.Errorf("negative volume")
	case len(rec.Phases) == 0:
		return fmt.Errorf("no phase")
	}
	for i, p := range rec.Phases {
		if p.Name == "" || p.Duration < 0 || p.Start.Before(rec.Start) || p.Start.After(rec.End) {
			return fmt.Errorf("phase %d", i)
		}
	}
	return nil
}
