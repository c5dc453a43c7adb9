package regeneration

import (
	"math/rand/v2"
	"testing"
	"time"

	"brinebell/detect"
)

// Seals that leak in service, and hold tight while the tank is refilled hours ahead
// of the draw, do not blur the cycle.
func TestLeakingSealsAndBrineMadeAhead(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	s := newScript()
	s.home.Softener.RefillBefore = true
	s.home.Softener.Cycle = []detect.ProgrammeStep{
		{Phase: detect.Refill, Duration: 4 * time.Minute, Flow: 1.9},
		{Phase: detect.Backwash, Duration: 10 * time.Minute, Flow: 8},
		{Phase: detect.BrineDraw, Duration: 60 * time.Minute, Flow: 1.9},
		{Phase: detect.FastRinse, Duration: 6 * time.Minute, Flow: 8},
	}
	for range 4 {
		s.play(stretch{minutes: 360 - 124})
		s.play(ahead(120)...)
		s.play(stretch{minutes: 1440 - 360 - 76 - 60})
	}
	leak := func(minutes int) {
		for range minutes {
			x := 0.95 + 0.08*r.NormFloat64()
			s.play(stretch{1, x, x, 0})
		}
	}
	leak(1440 + 360 - 124)
	s.play(stretch{4, 0, 1.9, 15})
	leak(120)
	s.play(whole[:4]...)
	leak(600)
	if len(s.records) != 5 {
		t.Fatalf("%d records", len(s.records))
	}
	rec := s.records[4]
	near(t, "running drain", rec.RunningDrain, 0.95, 0.15)
	near(t, "brine", rec.BrineLitres, s.records[3].BrineLitres, 0.3)
	near(t, "length, minutes", rec.End.Sub(rec.Start).Minutes(), 200, 5)
}

// A slow rinse beside a leak of its own size does not end the cycle before its last
// rinse and refill.
func TestLeakAsLargeAsTheRinse(t *testing.T) {
	s := newScript()
	for range 4 {
		s.play(night)
		s.play(whole...)
		s.play(stretch{minutes: 1440 - 360 - 120})
	}
	leak := func(minutes int) { s.play(stretch{minutes, 1.3, 1.3, 0}) }
	leak(1440 + 360)
	s.play(stretch{10, 8, 8, 0}, stretch{15, 1.9, 1.4, -4}, stretch{45, 1.25, 1.25, 0}, stretch{6, 8, 8, 0}, stretch{4, 0, 1.9, 15})
	leak(600)
	if len(s.records) != 5 {
		t.Fatalf("%d records", len(s.records))
	}
	if rec := s.records[4]; rec.Ending != Completed || rec.RefillLitres < 4 {
		t.Errorf("%+v", rec)
	}
}
