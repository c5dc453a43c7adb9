package books

import (
	"bytes"
	"encoding/gob"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
	"unsafe"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/regeneration"
	"brinebell/detect/series"
)

var nan = math.NaN()

// noon of an ordinary Monday.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func home() *detect.Home {
	h := detect.DefaultHome("test", time.UTC)
	h.Meters.Service = &detect.Meter{}
	return &h
}

// minute is one minute with the given flows, in L/min; NaN is not measured.
func minute(at time.Time, service, inlet float64) *series.Minute {
	m := series.NewMinute(at)
	m.Values[detect.ServiceFlow] = service
	m.Values[detect.InletFlow] = inlet
	return &m
}

// run steps minutes from one time to another at constant flows.
func run(l *Ledger, from, to time.Time, service, inlet float64) {
	for at := from; at.Before(to); at = at.Add(time.Minute) {
		l.Step(minute(at, service, inlet))
	}
}

// record is a regeneration in order at the default home's settings: the brine is
// 2.7 kg at 0.3175 kg/L, the drain 10 min and 6 min at 8 and 60 min at 1.9 L/min.
func record(start time.Time) *regeneration.Record {
	return &regeneration.Record{
		Start: start, End: start.Add(80 * time.Minute), Ending: regeneration.Completed, Confidence: 0.99,
		Phases: []regeneration.Phase{
			{Name: detect.Backwash}, {Name: detect.BrineDraw}, {Name: detect.FastRinse}, {Name: detect.Refill},
		},
		BrineLitres: 8.5, RefillLitres: 7.6, DrainLitres: 242,
		LevelStart: nan, LevelLowest: nan, LevelEnd: nan,
	}
}

func near(t *testing.T, what string, got Number, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= tolerance) {
		t.Errorf("%s is %.4f, want %.4f", what, float64(got), want)
	}
}

func TestWaterThroughAndPast(t *testing.T) {
	l := New(home())
	run(l, noon, noon.Add(10*time.Hour), 0.5, 0.8)
	b := l.View()
	near(t, "through", b.Today.Through, 300, 1e-9)
	near(t, "past", b.Today.Past, 180, 1e-9)
	if b.Basis != ByService || b.Today.Date != "2026-03-02" {
		t.Errorf("basis %s on %s", b.Basis, b.Today.Date)
	}
}

func TestInletAloneIsTakenAsSoftened(t *testing.T) {
	l := New(home())
	run(l, noon, noon.Add(time.Hour), nan, 1)
	b := l.View()
	near(t, "through", b.Today.Through, 60, 1e-9)
	if b.Today.Past.Known() || b.Basis != ByInlet {
		t.Errorf("past %v on %s: an inlet meter alone does not show it", b.Today.Past, b.Basis)
	}
}

// A meter before the resin sees the rinse; one after it does not, and there the
// rinse looks like water that went past.
func TestRinseWaterIsNoUse(t *testing.T) {
	const rinse = 242 + 7.6 - 8.5
	for _, c := range []struct {
		name               string
		downstream         bool
		service, inlet     float64 // L/min during the regeneration
		through, past, use float64
	}{
		{name: "upstream", service: (rinse + 16) / 80, inlet: (rinse + 16) / 80, through: 16, use: 16},
		{name: "downstream", downstream: true, service: 16.0 / 80, inlet: (rinse + 16) / 80, through: 16, use: 16},
	} {
		h := home()
		h.Meters.Service.Downstream = c.downstream
		l := New(h)
		start := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
		run(l, start.Add(-time.Hour), start, 0, 0)
		run(l, start, start.Add(80*time.Minute), c.service, c.inlet)
		run(l, start.Add(80*time.Minute), start.Add(200*time.Minute), 1, 1)
		e := l.Regeneration(record(start))
		b := l.View()
		near(t, c.name+": household use", e.HouseholdUse, c.use, 0.01)
		near(t, c.name+": through", b.Today.Through, c.through+120, 0.01)
		near(t, c.name+": past", b.Today.Past, c.past, 0.01)
		near(t, c.name+": rinse", b.Today.Rinse, rinse, 0.01)
		near(t, c.name+": since", b.Bed.Litres, 120, 0.01)
	}
}

// By hand: 120 L at 300 mg/L are 36 g; 2.7 kg on 28.3 L are 95.4 g/L, which the
// published curve gives 0.91 eq/L, so 1,289 g in all.
func TestCapacityLeft(t *testing.T) {
	l := New(home())
	start := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
	run(l, start.Add(-time.Hour), start.Add(80*time.Minute), 0, nan)
	l.Regeneration(record(start))
	run(l, start.Add(80*time.Minute), start.Add(200*time.Minute), 1, nan)
	b := l.View().Bed
	near(t, "removed", b.Removed, 36, 0.01)
	near(t, "restored", b.Restored, 1289, 15)
	near(t, "left", b.Left, float64(b.Restored)-36, 0.01)
	near(t, "litres left", b.LeftLitres, float64(b.Left)/0.3, 0.1)
	near(t, "seen", b.Seen, 1, 0.01)
}

func TestAlternatingTanksTakeTurns(t *testing.T) {
	h := home()
	h.Softener.Alternating = true
	l := New(h)
	start := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
	run(l, start.Add(-time.Hour), start.Add(80*time.Minute), 0, nan)
	first := l.Regeneration(record(start))
	spend := func(from time.Time) { // 4,300 L at 300 mg/L: all a tank has
		run(l, from.Add(80*time.Minute), from.Add(24*time.Hour), 4300.0/1360, nan)
		run(l, from.Add(24*time.Hour), from.Add(24*time.Hour+80*time.Minute), 0, nan)
	}
	spend(start)
	weak := record(start.Add(24 * time.Hour))
	weak.BrineLitres = 1
	second := l.Regeneration(weak)
	spend(start.Add(24 * time.Hour))
	third := l.Regeneration(record(start.Add(48 * time.Hour)))
	if second.Restored != first.Restored {
		t.Error("the tank regenerated first should go into service second")
	}
	if third.Restored >= second.Restored/2 {
		t.Error("the weakly regenerated tank should go into service third")
	}
}

// Nobody saw the water: then nobody knows that the bed was full, and salt that
// did not come restores nothing.
func TestNoWaterSeenNoCapacityClaimed(t *testing.T) {
	l := New(home())
	start := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
	run(l, start.Add(-time.Hour), start.AddDate(0, 0, 5), nan, nan)
	l.Regeneration(record(start))
	failed := record(start.AddDate(0, 0, 5))
	failed.BrineLitres = 0
	e := l.Regeneration(failed)
	if e.LeftBefore.Known() || e.Restored > 1 {
		t.Errorf("left before %v, restored %v without salt", e.LeftBefore, e.Restored)
	}
}

func TestUnknownIsNeverZero(t *testing.T) {
	l := New(home())
	run(l, noon, noon.Add(48*time.Hour), nan, nan)
	rec := record(noon.Add(14 * time.Hour))
	rec.BrineLitres, rec.RefillLitres, rec.DrainLitres = nan, nan, nan
	e := l.Regeneration(rec)
	b := l.View()
	for name, n := range map[string]Number{
		"through": b.Yesterday.Through, "past": b.Yesterday.Past, "bed litres": b.Bed.Litres, "left": b.Bed.Left,
		"salt": b.Tank.Salt, "week": b.Water.Week, "past week": b.PastWeek, "explained": b.Explains.Share, "next": b.Next.Hours,
		"brine": e.Brine.Value, "drain": e.Drain.Value, "removed": e.Removed, "use": e.HouseholdUse, "heavy day": b.Heavy,
	} {
		if n.Known() {
			t.Errorf("%s is given as %v though nobody measured it", name, n)
		}
	}
	if !e.SaltAssumed || b.RunsOut.OK || b.Next.OK || b.Tank.Basis != ByNothing || b.Basis != ByNoMeter || len(e.Reasons) > 0 {
		t.Errorf("claims to know: %+v", b)
	}
	if text, err := json.Marshal(b); err != nil || strings.Contains(string(text), "NaN") {
		t.Errorf("books in JSON: %v", err)
	}
	var back Books
	if text, _ := json.Marshal(b); json.Unmarshal(text, &back) != nil || back.Tank.Salt.Known() {
		t.Error("null must come back as unknown")
	}
}

func TestNothingSeenAtAll(t *testing.T) {
	b := New(home()).View()
	if b.Today.Through.Known() || b.Next.OK || b.RunsOut.OK || !b.At.IsZero() {
		t.Errorf("empty books say %+v", b)
	}
}

// On 29 March 2026 clocks in Dublin go from 01:00 to 02:00: a day of 23 hours.
func TestLocalDaysFollowTheClock(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Skip("no time zone data")
	}
	h := home()
	h.Location = dublin
	l := New(h)
	run(l, time.Date(2026, 3, 28, 0, 0, 0, 0, dublin), time.Date(2026, 3, 31, 0, 0, 0, 0, dublin), 1, nan)
	for i, want := range []float64{1440, 1380, 1440} {
		near(t, l.DayBooks()[i].Date, l.DayBooks()[i].Through, want, 0)
	}
}

func TestMinutesOutOfOrderAreIgnored(t *testing.T) {
	l := New(home())
	run(l, noon, noon.Add(time.Hour), 1, nan)
	run(l, noon, noon.Add(30*time.Minute), 9, nan)
	near(t, "through", l.View().Today.Through, 60, 0)
}

// history draws a life of three weeks with gaps and regenerations.
func history(r *rand.Rand) (minutes []*series.Minute, records map[int]*regeneration.Record) {
	records = make(map[int]*regeneration.Record)
	at := noon
	for i := 0; i < 21*1440; i += 1 + r.IntN(3) {
		m := series.NewMinute(at.Add(time.Duration(i) * time.Minute))
		for s, chance := range map[detect.Signal]float64{detect.ServiceFlow: 0.9, detect.InletFlow: 0.8, detect.BrineLevel: 0.5, detect.SaltLevel: 0.3, detect.RawHardness: 0.01} {
			if r.Float64() < chance {
				m.Values[s] = 200 * r.Float64()
			}
		}
		minutes = append(minutes, &m)
		if i > 1000 && r.Float64() < 0.0005 {
			rec := record(m.Start.Add(-2 * time.Hour))
			rec.BrineLitres = 8.5 + r.NormFloat64()
			records[len(minutes)-1] = rec
		}
	}
	return minutes, records
}

func snapshot(t interface{ Fatal(...any) }, l *Ledger) []byte {
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(l); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The books are the same whether they were kept in one go or put away and taken
// up again anywhere, and reading them changes nothing.
func TestPuttingAwayChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		minutes, records := history(r)
		cut := rapid.IntRange(0, len(minutes)-1).Draw(t, "cut")
		whole, parts := New(home()), New(home())
		for i, m := range minutes {
			whole.Step(m)
			parts.Step(m)
			if rec := records[i]; rec != nil {
				whole.Regeneration(rec)
				parts.Regeneration(rec)
			}
			if i == cut {
				kept := snapshot(t, parts)
				parts.View()
				if !bytes.Equal(kept, snapshot(t, parts)) {
					t.Fatal("reading the books changed them")
				}
				parts = new(Ledger)
				if err := gob.NewDecoder(bytes.NewReader(kept)).Decode(parts); err != nil {
					t.Fatal(err)
				}
				parts.Attach(home())
			}
		}
		if !bytes.Equal(snapshot(t, whole), snapshot(t, parts)) {
			t.Fatal("the books differ after a restore")
		}
	})
}

func TestChangedSettingsForgetThePast(t *testing.T) {
	l := New(home())
	for i := range 6 {
		l.Regeneration(record(noon.AddDate(0, 0, 5*i)))
	}
	l.Attach(home())
	if l.Past.Brine.Count != 6 {
		t.Errorf("%d of 6 regenerations remembered", l.Past.Brine.Count)
	}
	h := home()
	h.Softener.SaltDose = 4
	l.Attach(h)
	if l.Past.Brine.Count != 0 || l.Past.Regenerations != 6 {
		t.Error("another dose makes another past")
	}
}

func TestSizeOfALedger(t *testing.T) {
	l := New(home())
	r := rand.New(rand.NewPCG(4, 1))
	minutes, records := history(r)
	for i, m := range minutes {
		l.Step(m)
		if records[i] != nil {
			l.Regeneration(records[i])
		}
	}
	if size := unsafe.Sizeof(*l); size > 8<<10 {
		t.Errorf("a ledger takes %d bytes of memory", size)
	}
	t.Logf("%d bytes in memory, %d in a snapshot", unsafe.Sizeof(*l), len(snapshot(t, l)))
}

func TestStepAllocatesNothing(t *testing.T) {
	l := New(home())
	m := minute(noon, 1, 2)
	m.Values[detect.BrineLevel], m.Values[detect.SaltLevel] = 200, 500
	if n := testing.AllocsPerRun(5000, func() {
		m.Start = m.Start.Add(time.Minute)
		l.Step(m)
	}); n > 0 {
		t.Errorf("Step allocates %v times", n)
	}
}

func BenchmarkStep(b *testing.B) {
	l := New(home())
	m := minute(noon, 1, 2)
	m.Values[detect.BrineLevel], m.Values[detect.SaltLevel] = 200, 500
	b.ReportAllocs()
	for b.Loop() {
		m.Start = m.Start.Add(time.Minute)
		l.Step(m)
	}
}

func BenchmarkView(b *testing.B) {
	l := New(home())
	run(l, noon, noon.AddDate(0, 0, 56), 0.4, 0.5)
	b.ReportAllocs()
	for b.Loop() {
		l.View()
	}
}
