package engine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"
	"time"

	"brinebell/detect"
)

// house plays a made-up home: taps by day, a regeneration every third night at
// two, and from the given days on a cistern that refills and a drain that runs.
// Nothing in it comes from the detectors' own formulas.
func house(days, leakFrom, drainFrom int, seed uint64) []detect.Reading {
	r := rand.New(rand.NewPCG(seed, 1))
	start := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	var out []detect.Reading
	inlet, drain, level := 1000.0, 50.0, 340.0
	use := 0
	for s := 0; s < days*8640; s++ {
		at := start.Add(time.Duration(s) * 10 * time.Second)
		day, hour := s/8640, at.Hour()
		in, out10 := 0.0, 0.0
		if use > 0 {
			use--
			in += 1.2
		} else if hour >= 6 && hour < 23 && r.Float64() < 0.004 {
			use = 2 + r.IntN(30)
		}
		if m := (s % 8640) / 6; day%3 == 2 && m >= 120 && m < 200 {
			switch m -= 120; {
			case m < 10, m >= 70 && m < 76:
				out10 = 8.0 / 6
			case m < 70:
				out10 = 1.9 / 6
				if m < 30 {
					level -= 120.0 / (20 * 6)
				}
			default:
				in += 1.9 / 6
				level += 120.0 / (4 * 6)
			}
			in += out10
		}
		if day >= leakFrom && s%120 < 2 {
			in += 0.5
		}
		if day >= drainFrom {
			in += 0.05
			out10 += 0.05
		}
		inlet += in
		drain += out10
		out = append(out,
			detect.Reading{Home: "h", Signal: detect.InletVolume, Time: at, Value: math.Floor(inlet*10) / 10},
			detect.Reading{Home: "h", Signal: detect.DrainVolume, Time: at, Value: math.Floor(drain*10) / 10},
			detect.Reading{Home: "h", Signal: detect.BrineLevel, Time: at, Value: math.Round(level + 2*r.NormFloat64())})
	}
	return out
}

func profile() detect.Home {
	h := detect.DefaultHome("h", time.UTC)
	h.Meters.Inlet, h.Meters.Drain = &detect.Meter{Pulse: 0.1}, &detect.Meter{Pulse: 0.1}
	h.Softener.Control, h.Softener.DaysOverride = detect.Timed, 3 // as house regenerates
	return h
}

func play(t testing.TB, e *Engine, readings []detect.Reading) map[string]detect.Alert {
	t.Helper()
	alerts := map[string]detect.Alert{}
	for _, r := range readings {
		if o := e.Observe(r); o != Accepted {
			t.Fatalf("%v: %+v", o, r)
		}
	}
	e.Flush("h")
	for _, a := range e.Take() {
		alerts[a.ID] = a
	}
	return alerts
}

func kinds(alerts map[string]detect.Alert) map[detect.Kind]int {
	k := map[detect.Kind]int{}
	for _, a := range alerts {
		k[a.Kind]++
	}
	return k
}

func TestFindsWhatIsWrongAndOnlyThat(t *testing.T) {
	never := 99
	for _, c := range []struct {
		name        string
		leak, drain int
		want        map[detect.Kind]int
	}{
		{"healthy", never, never, map[detect.Kind]int{}},
		{"cistern refills", 8, never, map[detect.Kind]int{detect.NightLeak: 1}},
		{"drain runs", never, 8, map[detect.Kind]int{detect.DrainRunning: 1}},
		{"both", 8, 10, map[detect.Kind]int{detect.NightLeak: 1, detect.DrainRunning: 1}},
	} {
		e := New([]detect.Home{profile()}, Options{})
		got := play(t, e, house(14, c.leak, c.drain, 5))
		if !reflect.DeepEqual(kinds(got), c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		if n := len(e.Regenerations()); n != 4 {
			t.Errorf("%s: %d regenerations, want 4", c.name, n)
		}
	}
}

// A restart in the middle, from a snapshot, changes nothing.
func TestSnapshotIsExact(t *testing.T) {
	readings := house(14, 6, 9, 3)
	want := play(t, New([]detect.Home{profile()}, Options{}), readings)
	if len(want) != 2 {
		t.Fatal(want)
	}
	for _, cut := range []int{1, 777, len(readings) / 3, len(readings) / 2, len(readings) - 5} {
		first := New([]detect.Home{profile()}, Options{})
		got := map[string]detect.Alert{}
		for _, r := range readings[:cut] {
			first.Observe(r)
		}
		for _, a := range first.Take() {
			got[a.ID] = a
		}
		b, err := first.Snapshot("h")
		if err != nil {
			t.Fatal(err)
		}
		second := New([]detect.Home{profile()}, Options{})
		if err := second.Restore("h", b); err != nil {
			t.Fatal(err)
		}
		if !second.Watermark("h").Equal(first.Watermark("h")) {
			t.Errorf("cut at %d: the watermark moved", cut)
		}
		for id, a := range play(t, second, readings[cut:]) {
			got[id] = a
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("cut at %d: %v, want %v", cut, got, want)
		}
	}
}

func TestRestoreRefusesWhatItCannotRead(t *testing.T) {
	e := New([]detect.Home{profile()}, Options{})
	for _, b := range [][]byte{nil, []byte("not a snapshot")} {
		if e.Restore("h", b) == nil {
			t.Errorf("restored from %q", b)
		}
	}
	if e.Restore("nobody", nil) == nil {
		t.Error("restored a home that is not there")
	}
	if _, err := e.Snapshot("nobody"); err == nil {
		t.Error("snapshot of a home that is not there")
	}
}

func TestOutcomes(t *testing.T) {
	e := New([]detect.Home{profile()}, Options{})
	at := time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
	reading := func(home string, after time.Duration, v float64) detect.Reading {
		return detect.Reading{Home: home, Signal: detect.BrineLevel, Time: at.Add(after), Value: v}
	}
	for _, c := range []struct {
		r    detect.Reading
		want Outcome
	}{
		{reading("h", 0, 1), Accepted},
		{reading("h", 0, 1), Duplicate},
		{reading("h", time.Hour, 1), Accepted},
		{reading("h", time.Minute, 1), Late},
		{reading("x", 0, 1), UnknownHome},
		{reading("h", 2*time.Hour, math.NaN()), Implausible},
		{reading("h", 200*365*24*time.Hour, 1), Implausible},
	} {
		if got := e.Observe(c.r); got != c.want {
			t.Errorf("%+v: %s, want %s", c.r, got, c.want)
		}
	}
}

// everything gives house's home all other sensors too: a service meter, salt,
// pressures, power, hardness of both taps, conductivity, temperature, a floor
// sensor and a battery, each at ten seconds with noise of its own.
func everything(readings []detect.Reading, seed uint64) []detect.Reading {
	r := rand.New(rand.NewPCG(seed, 2))
	more := []struct {
		signal      detect.Signal
		mean, noise float64
	}{
		{detect.SaltLevel, 520, 3}, {detect.InletPressure, 400, 4}, {detect.OutletPressure, 385, 4}, {detect.ValvePower, 3, 0.1},
		{detect.RawHardness, 300, 5}, {detect.ColdHardness, 5, 1}, {detect.HotHardness, 6, 1}, {detect.RawIron, 0.1, 0.01},
		{detect.SoftConductivity, 650, 8}, {detect.WaterTemperature, 12, 0.2}, {detect.FloorWet, 0, 0}, {detect.Battery, 90, 0},
	}
	out := make([]detect.Reading, 0, len(readings)*(4+len(more))/3)
	for _, x := range readings {
		out = append(out, x)
		if x.Signal != detect.InletVolume {
			continue
		}
		out = append(out, detect.Reading{Home: x.Home, Signal: detect.ServiceVolume, Time: x.Time, Value: x.Value})
		for _, m := range more {
			out = append(out, detect.Reading{Home: x.Home, Signal: m.signal, Time: x.Time, Value: m.mean + m.noise*r.NormFloat64()})
		}
	}
	return out
}

// The hot path: one home at ten seconds, with the usual sensors and with all.
func BenchmarkObserve(b *testing.B) {
	readings := house(10, 99, 99, 5)
	b.Run("usual", func(b *testing.B) { benchmarkObserve(b, readings) })
	b.Run("all", func(b *testing.B) { benchmarkObserve(b, everything(readings, 6)) })
}

func benchmarkObserve(b *testing.B, readings []detect.Reading) {
	e := New([]detect.Home{profile()}, Options{})
	span := readings[len(readings)-1].Time.Sub(readings[0].Time) + 10*time.Second
	b.ReportAllocs()
	i, round := 0, time.Duration(0)
	for b.Loop() {
		r := readings[i]
		r.Time = r.Time.Add(round)
		e.Observe(r)
		if i++; i == len(readings) {
			i = 0
			round += span
		}
	}
}

// Memory of a thousand homes after half a day of readings, in bytes a home.
// The aim is 32 KiB with all signals.
func BenchmarkThousandHomes(b *testing.B) {
	readings := house(1, 99, 99, 5)
	readings = readings[:len(readings)/2]
	b.Run("usual", func(b *testing.B) { benchmarkHomes(b, readings) })
	b.Run("all", func(b *testing.B) { benchmarkHomes(b, everything(readings, 6)) })
}

func benchmarkHomes(b *testing.B, readings []detect.Reading) {
	var homes []detect.Home
	for i := range 1000 {
		h := profile()
		h.ID = fmt.Sprint("h", i)
		homes = append(homes, h)
	}
	for b.Loop() {
		before := heap()
		e := New(homes, Options{})
		for _, h := range homes {
			for _, r := range readings {
				r.Home = h.ID
				e.Observe(r)
			}
		}
		b.ReportMetric(float64(heap()-before)/float64(len(homes)), "B/home")
		snapshot, err := e.Snapshot("h0")
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(snapshot)), "snapshot-B/home")
	}
}

// A home with all sensors fits into 32 KiB.
func TestHomeIsSmall(t *testing.T) {
	readings := everything(house(1, 99, 99, 5), 6)[:20_000]
	e, before := New(nil, Options{}), heap()
	const n = 40
	for i := range n {
		h := profile()
		h.ID = fmt.Sprint("h", i)
		e.Add(h)
		for _, r := range readings {
			r.Home = h.ID
			e.Observe(r)
		}
	}
	if each := int(heap()-before) / n; each > 32<<10 {
		t.Errorf("%d bytes a home", each)
	}
	runtime.KeepAlive(e)
}

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
