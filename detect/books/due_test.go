package books

import (
	"testing"
	"time"

	"brinebell/detect"
)

// settled is a ledger after four weeks of litres a day, regenerated last at two on
// the night of at.
func settled(h *detect.Home, at time.Time, litres float64) *Ledger {
	l := New(h)
	run(l, at.AddDate(0, 0, -28), at, litres/1440, nan)
	run(l, at, at.Add(80*time.Minute), 0, nan)
	l.Regeneration(record(at))
	return l
}

var night = time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)

// By hand: 0.9 eq/L on 28.3 L less a fifth are 20.4 eq or 1,020 g; 600 L a day at
// 300 mg/L are 180 g, passed after 5.7 days: the sixth night. A control that does
// not wait has 1,275 g, used up after 7.1 days.
func TestNextByUse(t *testing.T) {
	for _, c := range []struct {
		control detect.Control
		days    float64
		litres  float64
		why     DueReason
		want    time.Duration
		within  time.Duration
	}{
		{detect.MeteredDelayed, 14, 600, DueByUse, 6 * 24 * time.Hour, 0},
		{detect.MeteredDelayed, 4, 600, DueByOverride, 4 * 24 * time.Hour, 0},
		{detect.MeteredDelayed, 14, 0, DueByOverride, 14 * 24 * time.Hour, 0},
		{detect.MeteredImmediate, 14, 600, DueByUse, 7*24*time.Hour + 3*time.Hour, 3 * time.Hour},
		{detect.MeteredImmediate, 3, 600, DueByOverride, 3 * 24 * time.Hour, 0},
		{detect.Timed, 5, 600, DueByInterval, 5 * 24 * time.Hour, 0},
	} {
		h := home()
		h.Softener.Control, h.Softener.DaysOverride = c.control, int(c.days)
		d := settled(h, night, c.litres).NextDue()
		if off := d.At.Sub(night.Add(c.want)).Abs(); !d.OK || d.Why != c.why || off > c.within {
			t.Errorf("%s, override %v, %v L a day: due %v by %s, want %v by %s", c.control, c.days, c.litres, d.At, d.Why, night.Add(c.want), c.why)
		}
	}
}

func TestDueCountsWhatIsAlreadyUsed(t *testing.T) {
	l := settled(home(), night, 600)
	run(l, night.Add(80*time.Minute), night.Add(34*time.Hour), 1.5, nan) // a heavy day: 2,940 L
	d := l.NextDue()
	if want := night.AddDate(0, 0, 3); !d.OK || d.At.After(want) {
		t.Errorf("due %v, want by %v", d.At, want)
	}
	near(t, "hours", d.Hours, d.At.Sub(time.Unix(l.Last, 0)).Hours(), 1e-9)
}

// Without a meter the use is unknown, and with it when a metered control comes
// round; a timed one does not ask.
func TestDueIsUnknownWithoutUse(t *testing.T) {
	for control, want := range map[detect.Control]bool{detect.MeteredDelayed: false, detect.MeteredImmediate: false, detect.Timed: true} {
		h := home()
		h.Softener.Control = control
		l := New(h)
		run(l, night.Add(-time.Hour), night.Add(3*time.Hour), nan, nan)
		l.Regeneration(record(night))
		if d := l.NextDue(); d.OK != want || d.Hours.Known() != want {
			t.Errorf("%s: due %+v", control, d)
		}
	}
}

// The hour of regeneration is the home's own, also over the change of clocks.
func TestDueKeepsTheLocalHour(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Skip("no time zone data")
	}
	h := home()
	h.Location = dublin
	d := settled(h, time.Date(2026, 3, 26, 2, 0, 0, 0, dublin), 600).NextDue()
	if !d.OK || d.At.Hour() != 2 || d.At.Day() != 1 {
		t.Errorf("due %v", d.At)
	}
}
