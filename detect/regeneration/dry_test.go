package regeneration

import "testing"

// dryCycle is a cycle behind a plugged injector: backwash, an hour of next to
// nothing, the fast rinse and the refill.
var dryCycle = []stretch{{10, 8, 8, 0}, {60, 0.04, 0.04, 0}, {6, 8, 8, 0}, {4, 0, 1.9, 15}, {40, 0, 0, 0}}

// A cycle in which nothing is drawn and next to nothing rinses is one cycle, and
// on record with no brine.
func TestPluggedInjectorIsStillOneCycle(t *testing.T) {
	s := newScript()
	for range 4 {
		s.play(night)
		s.play(whole...)
		s.play(stretch{minutes: 1440 - 360 - 120})
	}
	if len(s.records) != 4 {
		t.Fatalf("%d sound cycles", len(s.records))
	}
	s.play(night)
	s.play(dryCycle...)
	s.play(stretch{minutes: 400})
	if len(s.records) != 5 {
		t.Fatalf("%d records", len(s.records))
	}
	rec := s.records[4]
	near(t, "brine", rec.BrineLitres, 0, 0.3)
	near(t, "length, minutes", rec.End.Sub(rec.Start).Minutes(), 80, 6)
	if rec.Confidence < 0.9 {
		t.Errorf("%+v", rec)
	}
}

// Behind a drain line that is all but shut a backwash is a trickle.
func TestShutDrainIsStillOneCycle(t *testing.T) {
	s := newScript()
	for range 4 {
		s.play(night)
		s.play(whole...)
		s.play(stretch{minutes: 1440 - 360 - 120})
	}
	s.play(night)
	s.play(stretch{10, 0.25, 0.25, 0}, stretch{60, 0.24, 0.24, 0}, stretch{6, 0.25, 0.25, 0}, stretch{4, 0, 1.9, 15}, stretch{400, 0, 0, 0})
	if len(s.records) != 5 {
		t.Fatalf("%d records", len(s.records))
	}
	near(t, "brine", s.records[4].BrineLitres, 0, 0.3)
}
