package books

import (
	"slices"
	"testing"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
	"brinebell/detect/series"
)

// weeksOf runs so many weeks at litres a day, with a regeneration in order every
// so many days, up to a Monday midnight.
func weeksOf(l *Ledger, from time.Time, weeks int, litres float64, every int) time.Time {
	for day := range weeks * 7 {
		at := from.AddDate(0, 0, day)
		if day%every == 0 {
			run(l, at, at.Add(2*time.Hour), 0, nan)
			run(l, at.Add(2*time.Hour), at.Add(3*time.Hour+20*time.Minute), 241.1/80, nan)
			l.Regeneration(record(at.Add(2 * time.Hour)))
			run(l, at.Add(3*time.Hour+20*time.Minute), at.AddDate(0, 0, 1), litres/1240, nan)
			continue
		}
		run(l, at, at.AddDate(0, 0, 1), litres/1440, nan)
	}
	return from.AddDate(0, 0, 7*weeks)
}

var monday = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

func TestWeekAgainstTheNormal(t *testing.T) {
	l := New(home())
	next := weeksOf(l, monday, 6, 600, 6)
	next = weeksOf(l, next, 1, 900, 4)
	run(l, next, next.Add(time.Minute), 0, nan)
	b := l.View()
	near(t, "week", b.Water.Week, 6300, 1)
	near(t, "normal", b.Water.Normal, 4200, 1)
	near(t, "ratio", b.Water.Ratio, 1.5, 0.001)
	near(t, "salt of the week", b.Salt.Week, 2.7+3*2.7/6, 0.05) // four days at a dose in four, three at one in six
	near(t, "normal salt", b.Salt.Normal, 7*2.7/6, 0.05)
	near(t, "Sunday", b.Weekday[0], (6*600.0+900)/7, 1)
	if b.Regenerations != 9 {
		t.Errorf("%d regenerations seen", b.Regenerations)
	}
}

// By hand: 600 L a day at 300 mg/L are 180 g a day, and a delayed control goes
// through 1,020 g and half a day more, so a dose in 6.16 days: at one in six days
// the use explains 97 % of the salt, at one in three 49 %.
func TestSaltThatUseExplains(t *testing.T) {
	for every, share := range map[int]float64{6: 6 / 6.16, 3: 3 / 6.16} {
		l := New(home())
		next := weeksOf(l, monday, 8, 600, every)
		run(l, next, next.Add(time.Minute), 0, nan)
		x := l.View().Explains
		near(t, "share", x.Share, share, 0.01)
		near(t, "explained of used", x.Explained/x.Used, share, 0.01)
	}
}

func TestAdviceRestsOnTheBooks(t *testing.T) {
	l := New(home())
	if a := l.Advice(); !slices.Contains(a.Notes, resin.NoteUseUnknown) {
		t.Error("no use in the books, no advice")
	}
	next := weeksOf(l, monday, 6, 600, 6)
	m := series.NewMinute(next)
	m.Values[detect.RawHardness] = 400
	l.Step(&m)
	if a := l.Advice(); a.Hardness != 400 || a.Advised.Days < 3 || a.Advised.HardShare > 0 {
		t.Errorf("advice %+v", a)
	}
}

func TestAGapMakesADayIncomparable(t *testing.T) {
	l := New(home())
	run(l, monday, monday.AddDate(0, 0, 7), 0.5, nan)
	gap := monday.AddDate(0, 0, 7)
	run(l, gap.Add(5*time.Hour), gap.AddDate(0, 0, 1), 0.5, nan)
	run(l, gap.AddDate(0, 0, 1), gap.AddDate(0, 0, 2), 0.5, nan)
	days := l.DayBooks()
	near(t, "seen of the day with a gap", days[7].Seen, 19.0/24, 0.001)
	near(t, "its water, as far as seen", days[7].Through, 570, 1e-6)
	near(t, "Monday", l.View().Weekday[time.Monday], 720, 1e-6) // the gap left out
}

// Days older than eight weeks make room; a day nobody saw is not in the books.
func TestDaysKept(t *testing.T) {
	l := New(home())
	run(l, monday, monday.AddDate(0, 0, 1), 0.5, nan)
	later := monday.AddDate(0, 0, 80)
	m := series.NewMinute(later)
	l.Step(&m)
	if days := l.DayBooks(); len(days) != 1 || days[0].Date != later.Format(time.DateOnly) {
		t.Errorf("kept %v", days)
	}
}
