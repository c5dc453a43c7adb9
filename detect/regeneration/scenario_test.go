package regeneration

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/series"
)

// stage of a script: so many minutes in which the drain, the supply and the
// level's change a minute are as given.
type stretch struct {
	minutes           int
	drain, up, dLevel float64
}

// script plays stretches at a home with drain, service and level sensors.
type script struct {
	home     detect.Home
	r        *Recogniser
	at       time.Time
	level    float64
	noDrain  bool
	noLevel  bool
	records  []Record
	ongoing  []Ongoing // of every minute in which there was one
	ongoings []time.Time
}

func newScript() *script {
	s := &script{home: detect.DefaultHome("scripted", time.UTC), level: 300}
	s.home.Meters.Service = &detect.Meter{}
	s.at = time.Date(2025, 5, 4, 20, 0, 0, 0, time.UTC)
	s.r = New(&s.home)
	return s
}

func (s *script) play(stretches ...stretch) {
	for _, q := range stretches {
		for range q.minutes {
			m := series.NewMinute(s.at)
			s.level += q.dLevel
			if !s.noDrain {
				m.Values[detect.DrainFlow], m.Values[detect.ServiceFlow] = q.drain, q.up
			}
			if !s.noLevel {
				m.Values[detect.BrineLevel] = math.Round(s.level)
			}
			if rec := s.r.Step(&m); rec != nil {
				s.records = append(s.records, *rec)
			}
			s.at = s.at.Add(time.Minute)
			if o, ok := s.r.Ongoing(); ok {
				s.ongoing, s.ongoings = append(s.ongoing, o), append(s.ongoings, s.at)
			}
		}
	}
}

// night is the quiet before two o'clock.
var night = stretch{minutes: 360}

// cycle of a script: the brine falls 60 mm in 15 minutes.
var whole = []stretch{{10, 8, 8, 0}, {15, 1.9, 1.4, -4}, {45, 1.9, 1.9, 0}, {6, 8, 8, 0}, {4, 0, 1.9, 15}, {40, 0, 0, 0}}

func (s *script) one(t *testing.T) Record {
	t.Helper()
	if len(s.records) != 1 {
		t.Fatalf("%d records: %+v", len(s.records), s.records)
	}
	return s.records[0]
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s %.2f, want %.2f within %.2f", what, got, want, within)
	}
}

func TestWholeCycle(t *testing.T) {
	s := newScript()
	s.play(night)
	s.play(whole...)
	rec := s.one(t)
	start := time.Date(2025, 5, 5, 2, 0, 0, 0, time.UTC)
	near(t, "start, minutes", rec.Start.Sub(start).Minutes(), 0, 1)
	near(t, "end, minutes", rec.End.Sub(start).Minutes(), 80, 2)
	near(t, "drain", rec.DrainLitres, 10*8+60*1.9+6*8, 1)
	// A cylinder of 460 mm with a well of 100 mm; pores of 42 %.
	area := math.Pi / 4 * ((460*460-100*100)*0.42 + 100*100) / 1e6
	near(t, "brine", rec.BrineLitres, 60*area, 60*area*0.03)
	near(t, "refill", rec.RefillLitres, 60*area, 60*area*0.03)
	if rec.Ending != Completed || rec.Manual || rec.Confidence < 0.99 {
		t.Errorf("%+v", rec)
	}
	want := []struct {
		name    detect.Phase
		minutes float64
	}{{detect.Backwash, 10}, {detect.BrineDraw, 60}, {detect.FastRinse, 6}, {detect.Refill, 4}}
	if len(rec.Phases) != len(want) {
		t.Fatalf("phases %+v", rec.Phases)
	}
	for i, w := range want {
		if rec.Phases[i].Name != w.name {
			t.Errorf("phase %d is %s, want %s", i, rec.Phases[i].Name, w.name)
		}
		near(t, string(w.name)+" minutes", rec.Phases[i].Duration.Minutes(), w.minutes, 1)
	}
}

func TestOngoingIsToldWithinMinutes(t *testing.T) {
	s := newScript()
	s.play(night)
	s.play(whole...)
	if len(s.ongoing) == 0 {
		t.Fatal("nothing was said")
	}
	start := time.Date(2025, 5, 5, 2, 0, 0, 0, time.UTC)
	near(t, "told after, minutes", s.ongoings[0].Sub(start).Minutes(), 3, 2)
	first, last := s.ongoing[0], s.ongoing[len(s.ongoing)-1]
	near(t, "expected end, minutes", first.ExpectedEnd.Sub(start).Minutes(), 80, 10)
	if first.Phase != detect.Backwash || first.Probability < 0.5 || last.Probability < 0.95 {
		t.Errorf("first %+v, last %+v", first, last)
	}
	var mid Ongoing
	for i, at := range s.ongoings {
		if at.Sub(start) == 40*time.Minute {
			mid = s.ongoing[i]
		}
	}
	if mid.Phase != detect.BrineDraw {
		t.Errorf("after 40 minutes it says %+v", mid)
	}
}

func TestAnotherHourIsManual(t *testing.T) {
	s := newScript()
	s.play(stretch{minutes: 900})
	s.play(whole...)
	if rec := s.one(t); !rec.Manual {
		t.Errorf("11:00 is not by hand: %+v", rec)
	}
}

// A cycle that moves no brine is on record with no brine drawn, not with an
// unknown amount.
func TestNothingDrawn(t *testing.T) {
	s := newScript()
	s.play(night, stretch{10, 8, 8, 0}, stretch{60, 1.9, 1.9, 0}, stretch{6, 8, 8, 0}, stretch{40, 0, 0, 0})
	rec := s.one(t)
	near(t, "brine", rec.BrineLitres, 0, 0.3)
	near(t, "refill", rec.RefillLitres, 0, 0.3)
}

func TestPowerLostInMidCycle(t *testing.T) {
	s := newScript()
	s.play(night, stretch{10, 8, 8, 0}, stretch{15, 1.9, 1.4, -4}, stretch{10, 1.9, 1.9, 0}, stretch{120, 0, 0, 0})
	rec := s.one(t)
	if rec.Ending != CutShort {
		t.Errorf("ended %s", rec.Ending)
	}
	near(t, "drain", rec.DrainLitres, 80+25*1.9, 2)
}

func TestNeverEnds(t *testing.T) {
	for name, stuck := range map[string][]stretch{
		"in the rinse": {{10, 8, 8, 0}, {15, 1.9, 1.4, -4}, {600, 1.9, 1.9, 0}},
		"at the end":   {{10, 8, 8, 0}, {15, 1.9, 1.4, -4}, {45, 1.9, 1.9, 0}, {600, 8, 8, 0}},
	} {
		s := newScript()
		s.play(night)
		s.play(stuck...)
		if rec := s.one(t); rec.Ending != NeverEnded {
			t.Errorf("%s: %+v", name, rec)
		}
	}
}

// What runs down the drain without a phase is a leak, however long and however
// often it starts.
func TestRunningDrainIsNoRegeneration(t *testing.T) {
	for _, flow := range []float64{0.05, 0.4, 1.9, 8} {
		s := newScript()
		s.play(night)
		for range 6 {
			s.play(stretch{90, flow, flow, 0}, stretch{200, 0, 0, 0})
		}
		s.play(stretch{3000, flow, flow, 0})
		if len(s.records) > 0 {
			t.Errorf("%.2f L/min: %+v", flow, s.records)
		}
	}
}

func TestRegenerationOverRunningDrain(t *testing.T) {
	for _, flow := range []float64{0.05, 0.5, 2, 6} {
		s := newScript()
		s.noLevel = true
		s.play(stretch{minutes: 100}, stretch{1700, flow, flow, 0})
		for _, q := range whole {
			q.drain, q.up = q.drain+flow, q.up+flow
			s.play(q)
		}
		rec := s.one(t)
		near(t, "running flow", rec.RunningDrain, flow, 0.02+0.02*flow)
		near(t, "drain beyond it", rec.DrainLitres-flow*rec.End.Sub(rec.Start).Minutes(), 10*8+60*1.9+6*8, 5+3*flow)
	}
}

// Salt or water put in by hand, a sensor's drift and its jumps are not
// regenerations.
func TestLevelAloneIsNotFooled(t *testing.T) {
	s := newScript()
	s.noDrain = true
	s.play(stretch{minutes: 1000},
		stretch{1, 0, 0, 40}, stretch{minutes: 600}, // salt
		stretch{3, 0, 0, 15}, stretch{minutes: 600}, // water
		stretch{1, 0, 0, -60}, stretch{minutes: 600}, // a knock
		stretch{1000, 0, 0, -0.03}, stretch{1000, 0, 0, 0.03}) // warmth
	if len(s.records) > 0 {
		t.Errorf("%+v", s.records)
	}
}

func TestLevelAlone(t *testing.T) {
	s := newScript()
	s.noDrain = true
	s.play(night)
	s.play(whole...)
	rec := s.one(t)
	near(t, "start, minutes", rec.Start.Sub(time.Date(2025, 5, 5, 2, 0, 0, 0, time.UTC)).Minutes(), 0, 6)
	if rec.DrainLitres == rec.DrainLitres {
		t.Errorf("drain litres %v without a drain meter", rec.DrainLitres)
	}
}

// A missing hour in mid-cycle hides it from no home with drain and level.
func TestMissingMinutes(t *testing.T) {
	s := newScript()
	s.play(night, whole[0], whole[1])
	s.at = s.at.Add(40 * time.Minute)
	s.play(stretch{5, 1.9, 1.9, 0})
	s.play(whole[3:]...)
	rec := s.one(t)
	near(t, "drain", rec.DrainLitres, 10*8+60*1.9+6*8, 8)
}

// A drain meter that stands still: the level and the supply tell.
func TestDrainMeterStandsStill(t *testing.T) {
	s := newScript()
	s.play(night)
	for _, q := range whole {
		q.drain = 0
		s.play(q)
	}
	rec := s.one(t)
	near(t, "drain", rec.DrainLitres, 0, 0.01)
	if rec.BrineLitres < 3 {
		t.Errorf("%+v", rec)
	}
}

func TestSilenceAllocatesNothing(t *testing.T) {
	home := detect.DefaultHome("quiet", time.UTC)
	r, minutes, k := New(&home), idleMinutes(4000), 0
	if n := testing.AllocsPerRun(3000, func() { r.Step(&minutes[k]); k++ }); n > 0 {
		t.Errorf("%v allocations a minute", n)
	}
}

// A programme that lists the slow rinse by itself has it by itself on record,
// and a home whose profile names the wrong end of the cycle for its refill is
// still read right.
func TestSlowRinseByItselfAndEarlyRefill(t *testing.T) {
	s := newScript()
	s.home.Softener.Cycle = []detect.ProgrammeStep{
		{Phase: detect.Backwash, Duration: 10 * time.Minute, Flow: 8},
		{Phase: detect.BrineDraw, Duration: 20 * time.Minute, Flow: 1.9},
		{Phase: detect.SlowRinse, Duration: 40 * time.Minute, Flow: 1.9},
		{Phase: detect.FastRinse, Duration: 6 * time.Minute, Flow: 8},
		{Phase: detect.Refill, Duration: 4 * time.Minute, Flow: 1.9},
	}
	s.play(night, stretch{4, 0, 1.9, 15}, stretch{minutes: 30})
	s.play(whole[:4]...)
	s.play(stretch{minutes: 40})
	rec := s.one(t)
	want := []detect.Phase{detect.Refill, detect.Backwash, detect.BrineDraw, detect.SlowRinse, detect.FastRinse}
	if len(rec.Phases) != len(want) {
		t.Fatalf("%+v", rec.Phases)
	}
	for i, name := range want {
		if rec.Phases[i].Name != name {
			t.Errorf("phase %d is %s, want %s", i, rec.Phases[i].Name, name)
		}
	}
	near(t, "draw, minutes", rec.Phases[2].Duration.Minutes(), 15, 3)
}
