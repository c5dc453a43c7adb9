package web

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/cause"
	"brinebell/detect/regeneration"
)

// fakeTown is a source of made-up homes. Readings are drawn minute by minute
// with household-like bursts of water by day and a regeneration every third
// night, so that the pages have something to show.
type fakeTown struct {
	homes   []detect.Home
	alerts  []detect.Alert
	minutes map[string]map[detect.Signal][]sample // oldest first
	records map[string][]regeneration.Record
	broken  error // given by every method that can fail, when set

	mu    sync.Mutex // guards homes and hints
	hints []chan struct{}
}

type sample struct {
	at    time.Time
	value float64
}

var _ Source = (*fakeTown)(nil)

var errBroken = errors.New("disk on fire in row 7")

func (f *fakeTown) Homes() []detect.Home {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.homes)
}

func (f *fakeTown) Alerts(_ context.Context, home string) ([]detect.Alert, error) {
	var out []detect.Alert
	for _, a := range f.alerts {
		if home == "" || a.Home == home {
			out = append(out, a)
		}
	}
	return out, f.broken
}

func (f *fakeTown) Points(_ context.Context, home string, s detect.Signal, from, to time.Time, most int) ([]Point, error) {
	step := to.Sub(from) / time.Duration(most)
	var out []Point
	n, last := 0, -1
	for _, q := range f.minutes[home][s] {
		if q.at.Before(from) || !q.at.Before(to) {
			continue
		}
		bucket := int(q.at.Sub(from) / step)
		if bucket != last {
			out, n, last = append(out, Point{from.Add(time.Duration(bucket) * step), q.value, 0, q.value}), 0, bucket
		}
		p := &out[len(out)-1]
		p.Min, p.Max = min(p.Min, q.value), max(p.Max, q.value)
		p.Mean = (p.Mean*float64(n) + q.value) / float64(n+1)
		n++
	}
	return out, f.broken
}

func (f *fakeTown) Regenerations(_ context.Context, home string, from, to time.Time) ([]Regeneration, error) {
	var out []Regeneration
	for _, r := range f.records[home] {
		if !r.Start.Before(from) && r.Start.Before(to) {
			out = append(out, Regeneration{r, f.entry(home, r)})
		}
	}
	return out, f.broken
}

// entry books a regeneration as a ledger would: none for the cottage.
func (f *fakeTown) entry(home string, r regeneration.Record) *books.Entry {
	if home == "lime-kiln-cottage" {
		return nil
	}
	e := &books.Entry{Start: r.Start, End: r.End, Ending: r.Ending, Salt: books.Number(r.BrineLitres * 0.318)}
	if r.BrineLitres < 5 {
		e.Reasons, e.Missing = []books.Reason{books.BrineLow, books.PhaseMissing}, []detect.Phase{detect.Refill}
	}
	return e
}

// Books knows much of most homes, nothing but unknowns of the cottage, and has
// none of a home without readings.
func (f *fakeTown) Books(_ context.Context, home string) (books.Books, bool) {
	if len(f.minutes[home]) == 0 {
		return books.Books{}, false
	}
	unknown := books.Unknown()
	if home == "lime-kiln-cottage" {
		return books.Books{Basis: books.ByInlet, Bed: books.BedView{LeftLitres: unknown}, Tank: books.TankView{Basis: books.ByNothing, Salt: unknown, Spread: unknown},
			Explains: books.Explains{Share: unknown, Used: unknown}}, true
	}
	days, weekday := f.days(home)
	return books.Books{At: fakeNow, Basis: books.ByService, Days: days, Today: days[len(days)-1], Weekday: weekday, Heavy: 620, Raw: books.RawView{Hardness: 300},
		Water: books.Usual{Week: 3100, Normal: 2800, Spread: 200, Ratio: 1.107}, Salt: books.Usual{Week: 2.7, Normal: 2.6, Spread: 0.2, Ratio: 1.04},
		Bed:      books.BedView{Since: fakeNow.AddDate(0, 0, -2), LeftLitres: 1240, Left: 372, Restored: 775},
		Next:     books.Due{OK: true, At: fakeNow.AddDate(0, 0, 3), Why: books.DueByUse},
		Tank:     books.TankView{Basis: books.BySensor, Salt: 34, Spread: 2.5, Room: 41, PerDose: 2.7},
		RunsOut:  books.Forecast{OK: true, Expected: fakeNow.AddDate(0, 0, 26), Early: fakeNow.AddDate(0, 0, 20), Late: fakeNow.AddDate(0, 0, 34)},
		Explains: books.Explains{OK: true, Share: 0.93, Used: 8.1}}, true
}

// days are four weeks of a home's water, a little more at the week's end, with a
// day that nobody measured.
func (f *fakeTown) days(home string) (days []books.DayView, weekday []books.Number) {
	for w := range 7 {
		weekday = append(weekday, books.Number(380+40*math.Abs(float64(w)-3)))
	}
	for i := 27; i >= 0; i-- {
		at := fakeNow.AddDate(0, 0, -i)
		d := books.DayView{Date: at.Format(time.DateOnly), Through: weekday[at.Weekday()] * books.Number(0.85+0.3*math.Abs(math.Sin(float64(i*i)))), Seen: 1}
		switch {
		case i == 11:
			d.Through, d.Seen = books.Unknown(), 0
		case i%3 == 1:
			d.Rinse, d.Salt = 180, 2.7
		case i == 0:
			d.Through *= 0.6
		}
		days = append(days, d)
	}
	return days, weekday
}

func (f *fakeTown) Now(home string) time.Time {
	var newest time.Time
	for _, samples := range f.minutes[home] {
		if last := samples[len(samples)-1].at; last.After(newest) {
			newest = last
		}
	}
	return newest
}

func (f *fakeTown) Changes(ctx context.Context) <-chan struct{} {
	hints := make(chan struct{}, 1)
	f.mu.Lock()
	f.hints = append(f.hints, hints)
	f.mu.Unlock()
	return hints
}

func (f *fakeTown) rename(id, name string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i := range f.homes {
		if f.homes[i].ID == id {
			f.homes[i].Name = name
		}
	}
}

func (f *fakeTown) hint() {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, h := range f.hints {
		select {
		case h <- struct{}{}:
		default:
		}
	}
}

// fakeNow is a Tuesday afternoon in Dublin and a morning in Denver.
var fakeNow = time.Date(2026, 3, 17, 15, 20, 0, 0, time.UTC)

// trouble of a fake home: leak and drip are constant flows in L/min from the
// third day before fakeNow, weak is the share of brine drawn by then.
type fakeTrouble struct {
	leak, drip float64
	weak       float64
	noDrain    bool
	totalOnly  bool
}

func newFakeTown() *fakeTown {
	f := &fakeTown{minutes: map[string]map[detect.Signal][]sample{}, records: map[string][]regeneration.Record{}}
	dublin, _ := time.LoadLocation("Europe/Dublin")
	denver, _ := time.LoadLocation("America/Denver")
	for i, h := range []struct {
		id, name string
		loc      *time.Location
		units    detect.Units
		trouble  fakeTrouble
	}{
		{"ferry-steps-2", "2 Ferry Steps", dublin, detect.Metric, fakeTrouble{leak: 0.31}},
		{"mill-lane-4", "4 Mill Lane", dublin, detect.Metric, fakeTrouble{weak: 0.3}},
		{"quarry-road-11", "11 Quarry Road", denver, detect.US, fakeTrouble{drip: 1.2}},
		{"orchard-row-7", "7 Orchard Row", dublin, detect.Metric, fakeTrouble{}},
		{"lime-kiln-cottage", "Lime Kiln Cottage", dublin, detect.Metric, fakeTrouble{totalOnly: true, noDrain: true}},
	} {
		home := detect.DefaultHome(h.id, h.loc)
		home.Name, home.Units = h.name, h.units
		home.Meters.Inlet = &detect.Meter{Pulse: 0.1, StartingFlow: 0.1}
		f.homes = append(f.homes, home)
		f.live(home, h.trouble, rand.New(rand.NewPCG(7, uint64(i))))
	}
	empty := detect.DefaultHome("harbour-view-1", dublin)
	empty.Name = "1 Harbour View"
	f.homes = append(f.homes, empty)
	f.alerts = fakeAlerts()
	return f
}

// live makes ten days of a home.
func (f *fakeTown) live(h detect.Home, trouble fakeTrouble, random *rand.Rand) {
	signals := map[detect.Signal][]sample{}
	f.minutes[h.ID] = signals
	total, burstLeft, burst, level := 1250.0, 0, 0.0, 240.0
	var running *regeneration.Record
	for at := fakeNow.AddDate(0, 0, -10); !at.After(fakeNow); at = at.Add(time.Minute) {
		local := at.In(h.Location)
		bad := at.After(fakeNow.AddDate(0, 0, -3))
		if burstLeft == 0 && random.Float64() < 0.03*dayShare(local.Hour()) {
			burstLeft, burst = 1+random.IntN(9), 2+9*random.Float64()
		}
		use := 0.0
		if burstLeft > 0 {
			use, burstLeft = burst*(0.9+0.2*random.Float64()), burstLeft-1
		}
		if bad {
			use += trouble.leak
		}
		drain := 0.0
		if bad {
			drain = trouble.drip
		}
		if local.Hour() == 2 && local.Minute() == 3 && local.YearDay()%3 == 0 {
			running = f.begin(h, at, level, bad && trouble.weak > 0, trouble.weak)
		}
		if running != nil {
			out, change := stepOf(running, at)
			drain, level, use = drain+out, level+change, use+out
			if !at.Before(running.End) {
				running = nil
			}
		}
		total += use + drain*0
		if trouble.totalOnly {
			signals[detect.InletVolume] = append(signals[detect.InletVolume], sample{at, math.Floor(total)})
		} else {
			signals[detect.InletFlow] = append(signals[detect.InletFlow], sample{at, use})
		}
		if !trouble.noDrain {
			signals[detect.DrainFlow] = append(signals[detect.DrainFlow], sample{at, drain})
		}
		signals[detect.BrineLevel] = append(signals[detect.BrineLevel], sample{at, level + random.NormFloat64()*0.8})
	}
}

func dayShare(hour int) float64 {
	return [...]float64{.1, .03, .02, .02, .05, .4, 1.6, 2, 1.4, .9, .7, .8, 1.1, .9, .7, .7, .9, 1.4, 1.9, 1.7, 1.3, 1, .6, .3}[hour]
}

// fakeCycle is the phases of a fake regeneration: minutes, L/min to the drain
// and mm a minute of the brine level.
var fakeCycle = []struct {
	phase         detect.Phase
	minutes       int
	drain, change float64
}{{detect.Backwash, 10, 7.8, 0}, {detect.BrineDraw, 22, 1.9, -5.2}, {detect.SlowRinse, 36, 1.4, 0}, {detect.FastRinse, 6, 8.1, 0}, {detect.Refill, 8, 0, 14.3}}

func (f *fakeTown) begin(h detect.Home, at time.Time, level float64, weak bool, share float64) *regeneration.Record {
	r := regeneration.Record{Start: at, Ending: regeneration.Completed, Confidence: 0.995, LevelStart: level, StartError: time.Minute}
	for _, c := range fakeCycle {
		change := c.change
		if weak {
			change *= share
		}
		d := time.Duration(c.minutes) * time.Minute
		r.Phases = append(r.Phases, regeneration.Phase{Name: c.phase, Start: at, Duration: d,
			DrainLitres: c.drain * float64(c.minutes), BrineLitres: -change * float64(c.minutes) * 0.07})
		at = at.Add(d)
		r.DrainLitres += c.drain * float64(c.minutes)
	}
	r.End = at
	r.BrineLitres, r.RefillLitres = r.Phases[1].BrineLitres, -r.Phases[4].BrineLitres
	r.LevelLowest = level - r.BrineLitres/0.07
	r.LevelEnd = r.LevelLowest + r.RefillLitres/0.07
	f.records[h.ID] = append(f.records[h.ID], r)
	return &f.records[h.ID][len(f.records[h.ID])-1]
}

// stepOf is the drain flow and the change of level of one minute.
func stepOf(r *regeneration.Record, at time.Time) (drain, change float64) {
	for _, p := range r.Phases {
		if !at.Before(p.Start) && at.Before(p.Start.Add(p.Duration)) {
			minutes := p.Duration.Minutes()
			return p.DrainLitres / minutes, -p.BrineLitres / 0.07 / minutes
		}
	}
	return 0, 0
}

func fakeAlerts() []detect.Alert {
	onset := fakeNow.AddDate(0, 0, -3)
	alert := func(home string, kind detect.Kind, severity detect.Severity, summary string, causes []detect.CauseShare, e detect.Evidence) detect.Alert {
		return detect.Alert{ID: detect.AlertID(home, kind, onset), Home: home, Kind: kind, Severity: severity, Onset: onset,
			Raised: onset.Add(17 * time.Hour), Summary: summary, Causes: causes, Evidence: e}
	}
	over := alert("orchard-row-7", detect.SensorSilent, detect.Plan, "The sensor in the brine well was silent", nil, nil)
	over.Cleared = over.Onset.Add(5*time.Hour + 12*time.Minute)
	return []detect.Alert{
		alert("mill-lane-4", detect.SaltDrawLow, detect.ThisWeek, "The last regeneration drew 2.4 L of brine instead of 8 L, so the water will not stay soft for long.",
			[]detect.CauseShare{{Cause: detect.InjectorClogged, Probability: 0.52}, {Cause: detect.SaltBridge, Probability: 0.27}, {Cause: detect.BrineLineAir, Probability: 0.14}, {Cause: detect.SealsWorn, Probability: 0.02}},
			detect.Evidence{"drawn_l": 2.4, "usual_l": 8.0, "drawn_share": 0.3}),
		alert("mill-lane-4", detect.SaltLow, detect.Plan, "The salt lasts about twelve more days.", nil, detect.Evidence{"salt_kg": 6.5, "days_left": 12.0, "room_kg": 41.0}),
		alert("ferry-steps-2", detect.NightLeak, detect.ActNow, "Water never stops at night: about 0.31 L/min, 446 L a day.",
			[]detect.CauseShare{{Cause: detect.FlapperLeak, Probability: 0.71}, {Cause: detect.DrippingFixture, Probability: 0.16}, {Cause: detect.SupplyLineLeak, Probability: 0.08}},
			detect.Evidence{"size_l_per_min": 0.31, "litres_per_day": 446.4, "pattern": "steady", "nights_without_a_pause": 2, "smallest_visible_l_per_min": 0.02}),
		alert("quarry-road-11", detect.DrainRunning, detect.ActNow, "The drain line has been running for three days outside any regeneration.",
			[]detect.CauseShare{{Cause: detect.SealsWorn, Probability: 0.64}, {Cause: detect.DriveFailed, Probability: 0.22}},
			detect.Evidence{"size_l_per_min": 1.2, "litres_per_day": 1728.0}),
		over,
	}
}

func fakeCause(c detect.Cause) cause.Text {
	t := cause.Text{Title: sentenceCase(strings.ReplaceAll(string(c), "_", " "))}
	t.Household = "Listen near the place at night, when all taps are closed."
	t.Check = "Colour the water, wait a quarter of an hour, and look where the colour comes out."
	if c == detect.InjectorClogged {
		t.Caution = "The valve is under pressure: put the softener in bypass and let the pressure off before anybody opens it."
	}
	return t
}
