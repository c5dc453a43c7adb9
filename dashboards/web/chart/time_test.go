package chart

import (
	"slices"
	"testing"
	"time"
)

func dublin(t *testing.T) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// The clocks of Ireland went forward at 01:00 UTC on Sunday 29 March 2026 (EU
// directive 2000/84/EC: the last Sunday of March), so that day has 23 hours.
func TestDaysFollowTheLocalMidnight(t *testing.T) {
	loc := dublin(t)
	a := Axis{From: time.Date(2026, 3, 27, 0, 0, 0, 0, loc), To: time.Date(2026, 3, 31, 0, 0, 0, 0, loc), Location: loc}
	ticks := a.Ticks()
	var names []string
	for _, tick := range ticks {
		names = append(names, tick.Label+" "+tick.More)
	}
	if want := []string{"Fri 27", "Sat 28", "Sun 29", "Mon 30"}; !slices.Equal(names, want) {
		t.Fatalf("days %q, want %q", names, want)
	}
	widths := []float64{ticks[1].At, ticks[2].At - ticks[1].At, ticks[3].At - ticks[2].At}
	if got, want := widths[2]/widths[1], 23.0/24; got < want-1e-9 || got > want+1e-9 {
		t.Errorf("the short day is %v of a day wide, want %v", got, want)
	}
}

func TestHoursStayOnTheClockWhereItChanges(t *testing.T) {
	loc := dublin(t)
	a := Axis{From: time.Date(2026, 3, 28, 20, 0, 0, 0, loc), To: time.Date(2026, 3, 29, 20, 0, 0, 0, loc), Location: loc}
	for _, tick := range a.Ticks() {
		if tick.Label != "00:00" && tick.Label != "06:00" && tick.Label != "12:00" && tick.Label != "18:00" {
			t.Errorf("tick %q is no quarter of the day", tick.Label)
		}
	}
}

func TestHoursAreFewAndWithinTheAxis(t *testing.T) {
	loc := dublin(t)
	from := time.Date(2026, 3, 17, 1, 43, 0, 0, loc)
	for _, length := range []time.Duration{10 * time.Minute, 2 * time.Hour, 11 * time.Hour, 59 * time.Hour} {
		ticks := Axis{From: from, To: from.Add(length), Location: loc}.Ticks()
		if len(ticks) < 1 || len(ticks) > mostHourLabels+1 {
			t.Errorf("%v: %d ticks", length, len(ticks))
		}
		for _, tick := range ticks {
			if tick.At < 0 || tick.At > 1 {
				t.Errorf("%v: tick %+v outside", length, tick)
			}
		}
	}
	if ticks := (Axis{From: from, To: from, Location: loc}).Ticks(); ticks != nil {
		t.Errorf("an axis without length has ticks %v", ticks)
	}
}

func TestTwelveHourClock(t *testing.T) {
	loc := dublin(t)
	from := time.Date(2026, 3, 17, 1, 0, 0, 0, loc)
	ticks := Axis{From: from, To: from.Add(3 * time.Hour), Location: loc, TwelveHour: true}.Ticks()
	if ticks[0].Label != "1 am" || ticks[1].Label != "1:30" {
		t.Errorf("ticks %+v", ticks)
	}
}

func TestAPartOfADayHasNoNameWithoutRoom(t *testing.T) {
	loc := dublin(t)
	a := Axis{From: time.Date(2026, 3, 10, 0, 0, 0, 0, loc), To: time.Date(2026, 3, 16, 4, 0, 0, 0, loc), Location: loc}
	ticks := a.Ticks()
	if last := ticks[len(ticks)-1]; last.Label != "" || ticks[0].Label == "" {
		t.Errorf("first %+v, last %+v", ticks[0], last)
	}
}
