package series

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"brinebell/detect"
)

// minutesOf plays samples through Order and Assembler.
func minutesOf(t interface{ Fatalf(string, ...any) }, samples []Sample) []Minute {
	var o Order
	var a Assembler
	var out []Minute
	var m Minute
	drain := func() {
		for {
			s, ok := o.Next()
			if !ok {
				return
			}
			for a.Next(s.At, &m) {
				out = append(out, m)
			}
			a.Take(s.Signal, s.At, s.Value)
		}
	}
	for _, s := range samples {
		if p := o.Add(s); p == Late {
			t.Fatalf("late: %+v", s)
		}
		drain()
	}
	o.Flush()
	drain()
	for a.Finish(&m) {
		out = append(out, m)
	}
	return out
}

// However water is sampled, the minutes make none up, and hold all of it while
// the meter is never silent for long (conservation of volume).
func TestMinutesConserveVolume(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at, total := int64(1_700_000_040_000), 0.0
		samples := []Sample{{at, 0, detect.InletVolume}}
		longest := rapid.SampledFrom([]int64{85, 290}).Draw(t, "longest")
		for range rapid.IntRange(5, 300).Draw(t, "n") {
			at += rapid.Int64Range(1, longest).Draw(t, "seconds") * 1000
			total += rapid.Float64Range(0, 3).Draw(t, "litres")
			samples = append(samples, Sample{at, total, detect.InletVolume})
		}
		sum := 0.0
		last := int64(0)
		for _, m := range minutesOf(t, samples) {
			if last != 0 && m.Start.UnixMilli() != last+minute {
				t.Fatalf("minutes are not in a row at %s", m.Start)
			}
			last = m.Start.UnixMilli()
			if v, ok := m.Get(detect.InletFlow); ok {
				sum += v
			}
		}
		// The first reading is on a minute's edge and the last minute is not
		// closed, so only what passed in that one may be missing.
		if missing := total - sum; missing < -1e-5*total-1e-3 || longest < 90 && missing > 60*3 {
			t.Fatalf("%v L in the minutes, %v L passed", sum, total)
		}
	})
}

// The order of arrival within the lateness leaves no trace.
func TestOrderOfArrivalLeavesNoTrace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var samples []Sample
		for i := range int64(rapid.IntRange(10, 200).Draw(t, "n")) {
			at := 1_700_000_000_000 + i*10_000
			samples = append(samples, Sample{at, float64(i), detect.InletVolume}, Sample{at, 300, detect.BrineLevel})
		}
		want := minutesOf(t, samples)
		arrival := make(map[Sample]int64, len(samples))
		for _, s := range samples {
			arrival[s] = s.At + rapid.Int64Range(0, 55_000).Draw(t, "delay")
		}
		shuffled := slices.Clone(samples)
		slices.SortStableFunc(shuffled, func(a, b Sample) int { return cmp.Compare(arrival[a], arrival[b]) })
		got := minutesOf(t, shuffled)
		for i := range want {
			if !sameMinute(got[i], want[i]) {
				t.Fatalf("minute %s: %v, want %v", want[i].Start, got[i], want[i])
			}
		}
	})
}

func sameMinute(a, b Minute) bool {
	for i := range a.Values {
		if a.Values[i] != b.Values[i] && !(math.IsNaN(a.Values[i]) && math.IsNaN(b.Values[i])) {
			return false
		}
	}
	return a.Start.Equal(b.Start)
}

// Silence is unknown, not zero; a long one is jumped over.
func TestSilenceIsUnknown(t *testing.T) {
	var samples []Sample
	for i := range int64(30) {
		samples = append(samples, Sample{1_700_000_040_000 + i*10_000, 5, detect.DrainFlow})
	}
	resume := samples[29].At + 3*24*3600_000
	for i := range int64(30) {
		samples = append(samples, Sample{resume + i*10_000, 5, detect.DrainFlow})
	}
	unknownMinutes := 0
	minutes := minutesOf(t, samples)
	for _, m := range minutes {
		if _, ok := m.Get(detect.DrainFlow); !ok {
			unknownMinutes++
		}
	}
	if unknownMinutes < 1 || len(minutes) > 40 {
		t.Errorf("%d minutes, %d unknown", len(minutes), unknownMinutes)
	}
}

func TestLevelIsTheMean(t *testing.T) {
	var samples []Sample
	for i := range int64(60) {
		samples = append(samples, Sample{1_700_000_040_000 + i*10_000, 300 + float64(i%2), detect.BrineLevel})
	}
	for _, m := range minutesOf(t, samples) {
		if v, ok := m.Get(detect.BrineLevel); !ok || math.Abs(v-300.5) > 1e-3 {
			t.Errorf("%s: %v %v", m.Start, v, ok)
		}
	}
}

func TestOrderRefusesLateAndDuplicate(t *testing.T) {
	var o Order
	for _, c := range []struct {
		at   int64
		want Placement
	}{{s(0), Placed}, {s(30), Placed}, {s(30), Duplicate}, {s(20), Placed}, {s(100), Placed}, {s(40), Late}, {s(41), Placed}} {
		if got := o.Add(Sample{At: c.at, Signal: detect.BrineLevel}); got != c.want {
			t.Errorf("at %d: %v, want %v", c.at, got, c.want)
		}
	}
}

// One device whose clock is seven hours ahead does not make the others late.
func TestWrongClockDoesNotDrag(t *testing.T) {
	var o Order
	late := 0
	for i := range int64(5000) {
		for _, s := range []Sample{
			{s(i * 10), 0, detect.InletVolume}, {s(i * 10), 300, detect.BrineLevel}, {s(i*10 + 7*3600), 0, detect.DrainVolume},
		} {
			if o.Add(s) == Late {
				late++
			}
		}
		for _, ok := o.Next(); ok; _, ok = o.Next() {
		}
	}
	if late > 0 {
		t.Errorf("%d of 15000 readings were late", late)
	}
	if o.Passed < s(4900*10) {
		t.Error("time stands still")
	}
}

// A home whose other sensors fall silent goes on.
func TestSilentSensorsDoNotStopTime(t *testing.T) {
	var o Order
	for i := range int64(1000) {
		o.Add(Sample{s(i * 10), 300, detect.BrineLevel})
		if i < 10 {
			o.Add(Sample{s(i * 10), 0, detect.InletVolume})
			o.Add(Sample{s(i * 10), 80, detect.Battery})
		}
	}
	if o.Passed < s(9900) {
		t.Errorf("%d s behind", (o.Newest-o.Passed)/1000)
	}
}
