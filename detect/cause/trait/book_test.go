package trait

import (
	"bytes"
	"encoding/gob"
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/regeneration"
)

// entry is a week's run of 1,400 L.
var entry = books.Entry{Litres: 1400, DaysSince: 7}

func home() *detect.Home {
	h := detect.DefaultHome("mill-lane-4", time.UTC)
	return &h
}

// record is a regeneration as the home's programme has it, with its pace of draw,
// nozzle and drain and its refill multiplied.
func record(h *detect.Home, draw, nozzle, drain, refill float64) *regeneration.Record {
	dose := doseLitres(h)
	r := &regeneration.Record{Confidence: 1, Ending: regeneration.Completed, BrineLitres: dose * min(1, 1.5*draw), RefillLitres: dose * refill,
		DrawMinutes: 20, LevelLowest: 40, LevelEnd: 200, RefillSeen: dose * refill}
	r.DrawMinutes = r.BrineLitres / (dose / 20 * draw)
	for _, p := range h.Softener.Cycle {
		q := regeneration.Phase{Name: p.Phase, Duration: p.Duration, DrainLitres: p.Flow * p.Duration.Minutes() * drain}
		switch p.Phase {
		case detect.BrineDraw:
			q.DrainLitres = (p.Flow*p.Duration.Minutes()-dose)*nozzle + r.BrineLitres
		case detect.Refill:
			q.DrainLitres, q.Duration = 0, time.Duration(float64(p.Duration)*refill)
		}
		r.Phases = append(r.Phases, q)
	}
	return r
}

func shares(t *testing.T, b *Book, want map[string]float64) {
	t.Helper()
	e := b.Evidence()
	for key, v := range want {
		if got, ok := e[key].(float64); !ok || math.Abs(got-v) > 0.03*max(1, v) {
			t.Errorf("%s: %v, want %v", key, e[key], v)
		}
	}
}

// A home that is as ever shows shares of one; a clogged nozzle shows in the
// draw's pace and the nozzle's and not in backwash; a dose in the refill's time.
func TestTraitsTellWhatChanged(t *testing.T) {
	h, nan := home(), math.NaN()
	settled := func() *Book {
		b := &Book{}
		for range 8 {
			b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{nan, 300}, true)
		}
		return b
	}
	shares(t, settled(), map[string]float64{"drawn_share": 1, "refill_share": 1, "draw_pace_share": 1, "nozzle_pace_share": 1, "backwash_share": 1, "refill_minutes_share": 1})
	clogged := settled()
	for range 5 {
		clogged.Regeneration(h, record(h, 0.4, 0.5, 1, 1), &entry, Readings{nan, 300}, false)
	}
	shares(t, clogged, map[string]float64{"drawn_share": 0.6, "draw_pace_share": 0.4, "nozzle_pace_share": 0.5, "backwash_share": 1, "refill_minutes_share": 1})
	dose := settled()
	for range 5 {
		dose.Regeneration(h, record(h, 1, 1, 1, 0.6), &entry, Readings{nan, 300}, false)
	}
	shares(t, dose, map[string]float64{"refill_share": 0.6, "refill_minutes_share": 0.6, "draw_pace_share": 1})
}

// A home whose profile is off by a fifth is usual to itself; before it has shown
// so the profile stands.
func TestTheHomesOwnIsUsual(t *testing.T) {
	h, b := home(), &Book{}
	for i := range 20 {
		b.Regeneration(h, record(h, 1, 1, 1.2, 1), &entry, Readings{math.NaN(), 300}, true)
		if i == 0 && len(b.Evidence()) != 0 {
			t.Error("told after one regeneration")
		}
	}
	shares(t, b, map[string]float64{"backwash_share": 1})
}

// What creeps in does not become usual: learning lags, and stops with an alert.
func TestCreepingDoesNotTeach(t *testing.T) {
	h, b := home(), &Book{}
	for range 10 {
		b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{math.NaN(), 300}, true)
	}
	pace := 1.0
	for i := range 6 {
		pace *= 0.93
		b.Regeneration(h, record(h, 1, pace, 1, 1), &entry, Readings{math.NaN(), 300}, i < 4)
	}
	if got := b.Evidence()["nozzle_pace_share"].(float64); got > 1.1*pace {
		t.Errorf("told %v, is %v", got, pace)
	}
}

// Salt that does not sink, salt that was filled in, and salt that is low.
func TestSaltsTop(t *testing.T) {
	h, b := home(), &Book{}
	fall, top := doseFall(h), 500.0
	for range 5 {
		top -= fall
		b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{top, 300}, true)
	}
	shares(t, b, map[string]float64{"salt_sunk_share": 1, SaltHigh: top / h.BrineTank.Height})
	for range 5 {
		b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{top, 300}, true)
	}
	shares(t, b, map[string]float64{"salt_sunk_share": leastShare})
	before := b.Last[SaltSunk]
	b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{top + 200, 300}, true)
	if b.Last[SaltSunk] != before {
		t.Error("a filling counted as sinking")
	}
	b.Regeneration(h, record(h, 1, 1, 1, 1), &entry, Readings{math.NaN(), 300}, true)
	if _, ok := b.Evidence()[SaltHigh]; ok {
		t.Error("height told without a sensor")
	}
}

// What was not seen is not told; what was not sure is not looked at; a snapshot
// keeps all.
func TestUnknownStaysUnknown(t *testing.T) {
	h, b, nan := home(), &Book{}, math.NaN()
	blind := regeneration.Record{Confidence: 1, Ending: regeneration.Completed, BrineLitres: nan, RefillLitres: nan, DrawMinutes: nan, RefillSeen: nan, LevelLowest: nan, LevelEnd: nan}
	for range 4 {
		b.Regeneration(h, &blind, &entry, Readings{nan, 300}, true)
	}
	if e := b.Evidence(); e["run_litres_share"] != 1.0 || e["daily_use_share"] != 1.0 || e["raw_change_share"] != 1.0 || len(e) != 3 {
		t.Error(e)
	}
	doubtful := record(h, 0.1, 0.1, 0.1, 0.1)
	doubtful.Confidence = 0.5
	b.Regeneration(h, doubtful, &entry, Readings{nan, 300}, true)
	cut := record(h, 0.1, 0.1, 0.1, 0.1)
	cut.Ending = regeneration.CutShort
	b.Regeneration(h, cut, &entry, Readings{nan, 300}, true)
	if b.Number != 4 {
		t.Errorf("%d looked at", b.Number)
	}
	var buffer bytes.Buffer
	var read Book
	if err := gob.NewEncoder(&buffer).Encode(b); err != nil {
		t.Fatal(err)
	}
	if err := gob.NewDecoder(&buffer).Decode(&read); err != nil || read.Number != b.Number || read.Usual != b.Usual {
		t.Error(err, read)
	}
}

// A regeneration before a trouble says nothing of it; the water since does.
func TestSince(t *testing.T) {
	h, b := home(), &Book{}
	noon := time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)
	for i := range 4 {
		r := record(h, 1, 1, 1, 1)
		r.Start = noon.AddDate(0, 0, 5*i)
		b.Regeneration(h, r, &entry, Readings{math.NaN(), 300}, true)
	}
	hear(&b.Run, 3, func(float64) float64 { return 0.4 })
	for day, want := range map[int]string{9: "all", 11: "last", 16: "water"} { // regenerations on 0, 5, 10 and 15
		e := b.Since(noon.AddDate(0, 0, day))
		got := map[bool]string{true: "water"}[e[SoftPeak] != nil]
		if e["drawn_share"] != nil && e[SoftFloor] != nil {
			got = "last"
		}
		if e["daily_use_share"] != nil {
			got = "all"
		}
		if got != want {
			t.Errorf("since day %d: %v", day, e)
		}
	}
}

// The further from usual the larger the distance, over all traits together.
func TestDistance(t *testing.T) {
	usual := detect.Evidence{"drawn_share": 1.0, "left_share": 0.01, "size_l_per_min": 7.0}
	slight := detect.Evidence{"drawn_share": 0.8, "left_share": 0.2}
	bad := detect.Evidence{"drawn_share": 0.01, "left_share": 1.5}
	if a, b, c := Distance(usual), Distance(slight), Distance(bad); a != 0 || !(b > 0.5 && c > 2*b) || math.IsInf(c, 0) {
		t.Error(a, b, c)
	}
	if of, rest := Of(usual), Without(usual); len(of) != 2 || len(rest) != 1 {
		t.Error(of, rest)
	}
}
