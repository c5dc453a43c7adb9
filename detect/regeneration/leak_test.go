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
