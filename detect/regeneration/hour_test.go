package regeneration

import (
	"math"
	"testing"
	"time"

	"brinebell/detect"
)

// ahead is a cycle whose refill comes so many minutes before the backwash.
func ahead(minutes int) []stretch {
	return append([]stretch{{4, 0, 1.9, 15}, {minutes: minutes}}, whole[0], whole[1], whole[2], whole[3], stretch{minutes: 60})
}

// Whoever makes the brine ahead may count the hour from the refill or from the
// backwash: neither is a start by hand.
func TestBrineAheadOfTheHourIsNotByHand(t *testing.T) {
	for _, first := range []int{360, 360 - 124} { // minutes from eight in the evening
		s := newScript()
		s.home.Softener.RefillBefore = true
		s.home.Softener.Cycle = []detect.ProgrammeStep{
			{Phase: detect.Refill, Duration: 4 * time.Minute, Flow: 1.9},
			{Phase: detect.Backwash, Duration: 10 * time.Minute, Flow: 8},
			{Phase: detect.BrineDraw, Duration: 60 * time.Minute, Flow: 1.9},
			{Phase: detect.FastRinse, Duration: 6 * time.Minute, Flow: 8},
		}
		s.play(stretch{minutes: first})
		s.play(ahead(120)...)
		s.play(stretch{minutes: 120})
		if rec := s.one(t); rec.Manual {
			t.Errorf("refill at %s: by hand", rec.Start)
		}
	}
}

// A clock that nobody moved by summer time's hour is no hand at the valve; half
// past four is.
func TestSummerTimeIsNotByHand(t *testing.T) {
	for minutes, manual := range map[int]bool{300: false, 420: false, 370: false, 510: true, 260: true} {
		s := newScript()
		s.play(stretch{minutes: minutes})
		s.play(whole...)
		if rec := s.one(t); rec.Manual != manual {
			t.Errorf("at %s: by hand is %v", rec.Start.Format("15:04"), rec.Manual)
		}
	}
}

// pulsed is a flow as a meter of one litre a pulse shows it.
func (s *script) pulsed(q stretch, owed *float64) {
	for range q.minutes {
		*owed += q.drain
		whole := math.Floor(*owed)
		*owed -= whole
		s.play(stretch{1, whole, q.up, q.dLevel})
	}
}

// What a coarse meter makes of the border between the rinses does not teach: the
// home's cycles stay whole, and its fast rinse short.
func TestCoarseMeterDoesNotTeachALongRinse(t *testing.T) {
	s := newScript()
	s.home.Meters.Drain = &detect.Meter{Pulse: 1}
	owed := 0.0
	for range 6 {
		s.play(night)
		for _, q := range []stretch{{10, 6.6, 6.6, 0}, {24, 1.6, 1.06, -6.5}, {42, 1.06, 1.06, 0}, {6, 6.6, 6.6, 0}, {6, 0, 1.9, 26}, {40, 0, 0, 0}} {
			s.pulsed(q, &owed)
		}
		s.play(stretch{minutes: 1440 - 360 - 128})
	}
	for _, rec := range s.records {
		if rec.Ending != Completed {
			t.Errorf("%s: %s", rec.Start, rec.Ending)
		}
	}
	if l := s.r.Habit.Stages[fast]; len(s.records) != 6 || l.N > 0 && math.Exp(l.Minutes) > 12 {
		t.Errorf("%d records, a fast rinse of %.0f minutes", len(s.records), math.Exp(l.Minutes))
	}
}
