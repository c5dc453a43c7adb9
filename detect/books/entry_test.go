package books

import (
	"slices"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/regeneration"
)

// By hand, for the default home: 2.7 kg at 0.3175 kg/L are 8.50 L of brine; 10 and
// 6 min at 8 L/min and 60 at 1.9 are 242 L; 4 min at 1.9 are 7.6 L.
func TestProgrammeByHand(t *testing.T) {
	e := New(home()).Regeneration(record(noon))
	near(t, "brine", e.Brine.Programme, 8.50, 0.03)
	near(t, "drain", e.Drain.Programme, 242, 1e-9)
	near(t, "refill", e.Refill.Programme, 7.6, 1e-9)
	near(t, "minutes", e.Minutes.Programme, 80, 1e-9)
	near(t, "salt", e.Salt, 2.70, 0.01)
	if len(e.Reasons) != 0 || e.SaltAssumed {
		t.Errorf("a regeneration by the programme is found fault with: %v", e.Reasons)
	}
}

func TestReasons(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*regeneration.Record)
		want   []Reason
	}{
		"in order":      {func(*regeneration.Record) {}, nil},
		"no brine":      {func(r *regeneration.Record) { r.BrineLitres = 0.4 }, []Reason{BrineNone}},
		"half the draw": {func(r *regeneration.Record) { r.BrineLitres = 4.2 }, []Reason{BrineLow}},
		"much brine":    {func(r *regeneration.Record) { r.BrineLitres = 13 }, []Reason{BrineHigh}},
		"no refill":     {func(r *regeneration.Record) { r.RefillLitres = 0 }, []Reason{RefillNone}},
		"long refill":   {func(r *regeneration.Record) { r.RefillLitres = 16 }, []Reason{RefillHigh}},
		"weak drain":    {func(r *regeneration.Record) { r.DrainLitres = 120 }, []Reason{DrainLow}},
		"by hand":       {func(r *regeneration.Record) { r.Manual = true }, []Reason{OffHour}},
		"power lost": {func(r *regeneration.Record) { r.Ending = regeneration.CutShort; r.Phases = r.Phases[:2] },
			[]Reason{CutShort, PhaseMissing}},
		"runs on":        {func(r *regeneration.Record) { r.Ending = regeneration.NeverEnded }, []Reason{NeverEnded}},
		"tank fills up":  {func(r *regeneration.Record) { r.LevelStart, r.LevelEnd = 150, 250 }, []Reason{LevelHigher}},
		"tank runs down": {func(r *regeneration.Record) { r.LevelStart, r.LevelEnd = 250, 150 }, []Reason{LevelLower}},
		"level noise":    {func(r *regeneration.Record) { r.LevelStart, r.LevelEnd = 250, 260 }, nil},
		"nothing seen":   {func(r *regeneration.Record) { r.BrineLitres, r.RefillLitres, r.DrainLitres = nan, nan, nan }, nil},
	} {
		for _, past := range []int{0, 8} { // against the programme, and against the past
			l := New(home())
			for i := range past {
				l.Regeneration(record(noon.AddDate(0, 0, 5*i-60)))
			}
			rec := record(noon)
			c.change(rec)
			if got := l.Regeneration(rec).Reasons; !slices.Equal(got, c.want) {
				t.Errorf("%s, after %d others: %v, want %v", name, past, got, c.want)
			}
		}
	}
}

func TestMissingPhasesAreNamed(t *testing.T) {
	rec := record(noon)
	rec.Phases = []regeneration.Phase{{Name: detect.Backwash}, {Name: detect.BrineDraw}, {Name: detect.Refill}}
	l := New(home())
	if e := l.Regeneration(rec); !slices.Equal(e.Missing, []detect.Phase{detect.FastRinse}) {
		t.Errorf("missing %v", e.Missing)
	}
	rec.DrainLitres = nan // then nobody could have seen the fast rinse
	if e := l.Regeneration(rec); len(e.Missing) != 0 {
		t.Errorf("missing %v though no sensor shows it", e.Missing)
	}
}

// A tank measured badly in the profile is compared with itself: the home's usual
// stands in for the programme, which is then said to differ.
func TestAWrongProfileIsNotAFault(t *testing.T) {
	l := New(home())
	var last Entry
	for i := range 8 {
		rec := record(noon.AddDate(0, 0, 5*i))
		rec.BrineLitres = 12
		last = l.Regeneration(rec)
	}
	if !slices.Equal(last.Reasons, []Reason{BrineOffProgramme}) {
		t.Errorf("reasons %v", last.Reasons)
	}
	near(t, "of usual", last.Brine.OfUsual, 1, 1e-9)
	near(t, "of programme", last.Brine.OfProgramme, 12/8.5, 0.01)
}

// 100 mm of level in the pores of the default tank are 0.42 of the tank's
// 0.158336 L/mm outside the well and 0.007854 L/mm in it: 7.435 L.
func TestBrineFromLevelsAlone(t *testing.T) {
	rec := record(noon)
	rec.BrineLitres, rec.LevelStart, rec.LevelLowest, rec.LevelEnd = nan, 220, 120, 220
	e := New(home()).Regeneration(rec)
	near(t, "brine", e.Brine.Value, 7.435, 0.001)
}

func TestDaysAndUseSinceTheLast(t *testing.T) {
	l := New(home())
	first := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
	run(l, first.Add(-time.Hour), first.Add(80*time.Minute), 0, nan)
	e := l.Regeneration(record(first))
	if e.DaysSince.Known() || e.Removed.Known() {
		t.Error("the first regeneration has none before it")
	}
	second := first.AddDate(0, 0, 5)
	run(l, first.Add(80*time.Minute), second, 0.25, nan)
	run(l, second, second.Add(3*time.Hour), 3, nan) // rinse and more, not since the last
	e = l.Regeneration(record(second))
	litres := 0.25 * second.Sub(first.Add(80*time.Minute)).Minutes()
	near(t, "days", e.DaysSince, 5, 1e-9)
	near(t, "litres", e.Litres, litres, 0.01)
	near(t, "removed", e.Removed, litres*0.3, 0.01)
	near(t, "left before", e.LeftBefore, 1289-litres*0.3, 15)
}
