package engine

import (
	"bufio"
	"compress/gzip"
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

// stretch is water that passed between two readings of a real recording.
type stretch struct {
	from, to int64 // Unix seconds
	litres   float64
}

// realHome loads one of the recorded homes; see testdata/real/README.md for
// sources and licences.
func realHome(t testing.TB, id string) (detect.Home, []stretch) {
	t.Helper()
	f, err := os.Open("../../testdata/real/homes.yaml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	homes, err := detect.ReadHomes("homes.yaml", f)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range homes {
		if h.ID == id {
			return h, stretches(t, "../../testdata/real/"+id+".csv.gz")
		}
	}
	t.Fatal("no home", id)
	return detect.Home{}, nil
}

func stretches(t testing.TB, path string) []stretch {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var out []stretch
	var last int64
	lines := bufio.NewScanner(z)
	lines.Scan() // header
	for lines.Scan() {
		cols := strings.Split(lines.Text(), ",")
		at, err := strconv.ParseInt(cols[0], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		flow, err := strconv.ParseFloat(cols[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		if last != 0 && at-last <= 75 {
			out = append(out, stretch{last, at, flow * float64(at-last) / 60})
		}
		last = at
	}
	return out
}

// sampling is how a home's water is measured in a test.
type sampling struct {
	every  int64   // seconds
	pulse  float64 // litres
	totals bool    // running totals instead of flow
	leak   func(from, to int64) float64
}

// measure plays the stretches to sink as a meter with this sampling would
// report them. Where the recording has a gap the meter is silent, and a total
// starts anew, since what passed there is not known.
func (s sampling) measure(home string, water []stretch, sink func(detect.Reading)) {
	var total, told float64
	var last, next int64
	emit := func(at int64) {
		now := math.Floor(total/s.pulse+1e-6) * s.pulse
		r := detect.Reading{Home: home, Signal: detect.InletVolume, Time: time.Unix(at, 0), Value: now}
		if !s.totals {
			r.Signal, r.Value = detect.InletFlow, (now-told)*60/float64(at-last)
		}
		told, last = now, at
		sink(r)
	}
	for _, w := range water {
		if w.from != last && w.from >= next {
			if s.totals && next != 0 { // a logger restarted after the gap
				total, told = 0, 0
				sink(detect.Reading{Home: home, Signal: detect.InletVolume, Time: time.Unix(w.from, 0)})
			}
			last, next = w.from, w.from+s.every
		}
		rate := w.litres / float64(w.to-w.from)
		for from := w.from; from < w.to; {
			to := min(w.to, next)
			total += rate * float64(to-from)
			if s.leak != nil {
				total += s.leak(from, to)
			}
			if to == next {
				emit(to)
				next += s.every
			}
			from = to
		}
	}
}

// run replays a measured home and returns its alerts in their last states, in
// the order in which they were raised.
func (s sampling) run(t testing.TB, h detect.Home, water []stretch) []detect.Alert {
	t.Helper()
	e := New([]detect.Home{h}, Options{})
	s.measure(h.ID, water, func(r detect.Reading) {
		if o := e.Observe(r); o != Accepted {
			t.Fatal(o, r)
		}
	})
	e.Flush(h.ID)
	return e.Take()
}

// pulses are each home's own meter pulse, litres.
var pulses = map[string]float64{"apartment": 0.00225, "sprinkler-house": 0.157545}

// Nothing is wrong in the recorded homes as far as anyone knows: one is empty
// for 91 hours, the other waters its garden every night.
func TestRealHomesAreQuiet(t *testing.T) {
	for id, pulse := range pulses {
		h, water := realHome(t, id)
		for _, s := range []sampling{{every: 10, pulse: pulse}, {every: 10, pulse: pulse, totals: true}, {every: 60, pulse: pulse, totals: true},
			{every: 10, pulse: 1, totals: true}, {every: 60, pulse: 1}} {
			for _, a := range s.run(t, h, water) {
				t.Errorf("%s every %d s, pulse %g, totals %v: %s raised %s: %s", id, s.every, s.pulse, s.totals, a.Kind, a.Raised, a.Summary)
			}
		}
	}
}

// constantLeak runs from the given instant at a rate in L/min.
func constantLeak(start int64, rate float64) func(from, to int64) float64 {
	return func(from, to int64) float64 {
		return rate / 60 * float64(max(to-max(from, start), 0))
	}
}

// refillLeak lets a cistern take portion litres every so many seconds, within
// ten seconds.
func refillLeak(start int64, portion float64, every int64) func(from, to int64) float64 {
	return func(from, to int64) float64 {
		litres := 0.0
		for at := from; at < to; at++ {
			if at >= start && (at-start)%every < 10 {
				litres += portion / 10
			}
		}
		return litres
	}
}

// nightsUntil counts the local nights between a leak's start and the morning of
// its alert.
func nightsUntil(h detect.Home, start int64, a detect.Alert) int {
	first := time.Unix(start, 0).In(h.Location)
	day := func(t time.Time) int {
		return int(time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, time.UTC).Unix() / 86400)
	}
	return day(a.Raised.In(h.Location)) - day(first) + b2i(first.Hour() < 3)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A leak added to a real home is found by the morning after the second night,
// with a coarse meter within four, its size within a quarter, its pattern named.
func TestLeakInRealHome(t *testing.T) {
	h, water := realHome(t, "apartment")
	start := water[0].from - water[0].from%86400 + 10*86400
	for _, c := range []struct {
		name    string
		leak    func(from, to int64) float64
		rate    float64
		pulse   float64
		nights  int
		pattern string
	}{
		{"constant", constantLeak(start, 0.05), 0.05, 0.00225, 2, "steady"},
		{"constant, litre pulse", constantLeak(start, 0.05), 0.05, 1, 4, "steady"},
		{"flapper", refillLeak(start, 0.8, 1500), 0.032, 0.00225, 2, "refilling"},
		{"flapper, litre pulse", refillLeak(start, 0.8, 1500), 0.032, 1, 4, "refilling"},
	} {
		for _, s := range []sampling{{every: 10, pulse: c.pulse, leak: c.leak}, {every: 60, pulse: c.pulse, leak: c.leak, totals: true}} {
			alerts := s.run(t, h, water)
			if len(alerts) == 0 || alerts[0].Kind != detect.NightLeak {
				t.Errorf("%s: not found: %v", c.name, alerts)
				continue
			}
			a := alerts[0]
			size, _ := a.Evidence["size_l_per_min"].(float64)
			n := nightsUntil(h, start, a)
			t.Logf("%s every %d: night %d, %.4f L/min, %v, %s, %d alerts", c.name, s.every, n, size, a.Evidence["pattern"], a.Causes[0].Cause, len(alerts))
			if n > c.nights || n < 1 {
				t.Errorf("%s: found after %d nights, want %d", c.name, n, c.nights)
			}
			if math.Abs(size-c.rate) > 0.25*c.rate {
				t.Errorf("%s: %g L/min, want %g within a quarter", c.name, size, c.rate)
			}
			if a.Evidence["pattern"] != c.pattern {
				t.Errorf("%s: pattern %v, want %s", c.name, a.Evidence["pattern"], c.pattern)
			}
			if len(alerts) > 1 {
				t.Errorf("%s: one leak is one alert, got %d: %v", c.name, len(alerts), alerts[1])
			}
		}
	}
}

var sweep = flag.Bool("sweep", false, "try every sampling and pulse on the recorded homes, and leaks of every size: minutes")

// The recorded homes stay quiet whatever the meter and the pace.
func TestRealHomesAreQuietHoweverMeasured(t *testing.T) {
	if !*sweep {
		t.Skip("with -sweep only")
	}
	for id, own := range pulses {
		h, water := realHome(t, id)
		for _, every := range []int64{1, 2, 5, 10, 20, 30, 60} {
			for _, pulse := range []float64{own, 0.1, 1} {
				for _, totals := range []bool{true, false} {
					for _, a := range (sampling{every: every, pulse: pulse, totals: totals}).run(t, h, water) {
						t.Errorf("%s every %d s, pulse %g, totals %v: %s: %s", id, every, pulse, totals, a.Kind, a.Summary)
					}
				}
			}
		}
	}
}

// Leaks of every size at five hours of the apartment's year, as a table of days
// until the alert and of the size told.
func TestInjectedLeakSweep(t *testing.T) {
	if !*sweep {
		t.Skip("with -sweep only")
	}
	h, water := realHome(t, "apartment")
	midnight := water[0].from - water[0].from%86400
	for _, pulse := range []float64{0.00225, 0.1, 1} {
		for _, rate := range []float64{0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2} {
			row := fmt.Sprintf("pulse %g L, %g L/min:", pulse, rate)
			for i, day := range []int64{13, 22, 31, 62, 95} {
				start := midnight + day*86400 + int64(i)*5*3600
				s := sampling{every: 60, pulse: pulse, totals: true, leak: constantLeak(start, rate)}
				row += foundIn(s.run(t, h, water), time.Unix(start, 0), rate)
			}
			t.Log(row)
		}
	}
}

func foundIn(alerts []detect.Alert, start time.Time, rate float64) string {
	for _, a := range alerts {
		if size, ok := a.Evidence["size_l_per_min"].(float64); ok && a.Kind == detect.NightLeak && a.Raised.After(start) {
			return fmt.Sprintf("  %.1f d (%.0f %%)", a.Raised.Sub(start).Hours()/24, 100*size/rate)
		}
	}
	return "  -"
}
