package care_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
	"brinebell/detect/regeneration"
)

func cycle(day float64, reasons ...books.Reason) books.Entry {
	start := noon.Add(time.Duration(day * 24 * float64(time.Hour)))
	return books.Entry{Start: start, End: start.Add(80 * time.Minute), Ending: regeneration.Completed, Reasons: reasons}
}

func seen(days float64) care.Seen {
	return care.Seen{Until: noon.Add(time.Duration(days * 24 * float64(time.Hour))), Location: time.UTC}
}

func TestEveryCauseIsWatched(t *testing.T) {
	for _, c := range append(detect.Causes(), "") {
		w := care.WatchFor(c)
		if w.Nights+w.Regenerations == 0 || w.Reason == "" {
			t.Errorf("after %s: %+v", c, w)
		}
		if length := time.Duration(w.Nights) * 24 * time.Hour; length >= care.Patience {
			t.Errorf("after %s: %s is longer than anybody waits", c, length)
		}
	}
}

func TestWatch(t *testing.T) {
	leak, salt := care.WatchFor(detect.FlapperLeak), care.WatchFor(detect.SaltEmpty)
	day := func(d float64) time.Time { return noon.Add(time.Duration(d * 24 * float64(time.Hour))) }
	at5 := func(d int) time.Time { return time.Date(2026, 3, 1+d, 5, 0, 0, 0, time.UTC) }
	table := []struct {
		name  string
		watch care.Watch
		seen  care.Seen
		want  care.Outcome
		at    time.Time
	}{
		{"three quiet nights prove nothing", leak, seen(3.6), care.Pending, time.Time{}},
		{"the fourth does, whenever it is asked", leak, seen(40), care.Proven, at5(4)},
		{"a leak that goes on", leak, with(seen(8), raised(detect.NightLeak, -3)), care.Failed, day(7)},
		{"it was over on the second day: four nights from there", leak, with(seen(9), over(raised(detect.NightLeak, -3), 1.2)), care.Proven, at5(5)},
		{"a night without its sensor does not count", leak, silent(seen(9), 1, 2), care.Proven, at5(5)},
		{"two right regenerations", salt, cycles(seen(30), cycle(2), cycle(9)), care.Proven, cycle(9).End},
		{"one wrong between them", salt, cycles(seen(30), cycle(2), cycle(9, books.BrineLow), cycle(16)), care.Pending, time.Time{}},
		{"off the programme as ever", salt, cycles(seen(30), cycle(2, books.BrineOffProgramme), cycle(9, books.RefillOffProgramme)), care.Proven, cycle(9).End},
		{"by hand is right", salt, cycles(seen(30), cycle(0.1, books.OffHour), cycle(9)), care.Proven, cycle(9).End},
		{"but not where the hour was wrong", care.WatchFor(detect.ClockWrong), cycles(seen(30), cycle(2, books.OffHour), cycle(9)), care.Pending, time.Time{}},
		{"wrong ones while the alert stands", salt, cycles(with(seen(30), raised(detect.SaltDrawLow, -1)), cycle(2, books.BrineLow), cycle(4, books.BrineLow), cycle(6, books.BrineLow)), care.Failed, cycle(6).End},
		{"no regeneration is seen, and nothing else either", salt, seen(60), care.Unproven, day(45)},
		{"no regeneration is seen, and it still stands", salt, with(seen(60), raised(detect.SaltLow, -1)), care.Failed, day(45)},
		{"one from before the repair", salt, cycles(seen(30), cycle(-0.5), cycle(9)), care.Pending, time.Time{}},
	}
	for _, row := range table {
		got := row.watch.Judge(noon, row.seen)
		if got.Outcome != row.want || !got.At.Equal(row.at) {
			t.Errorf("%s: %s at %s, want %s at %s", row.name, got.Outcome, got.At, row.want, row.at)
		}
	}
}

func with(s care.Seen, alerts ...detect.Alert) care.Seen {
	s.Alerts = append(s.Alerts, alerts...)
	return s
}

func cycles(s care.Seen, entries ...books.Entry) care.Seen {
	s.Entries = append(s.Entries, entries...)
	return s
}

func silent(s care.Seen, from, to float64) care.Seen {
	s.Silent = append(s.Silent, detect.Span{From: noon.Add(time.Duration(from * 24 * float64(time.Hour))), To: noon.Add(time.Duration(to * 24 * float64(time.Hour)))})
	return s
}

// A night is the home's own, also where the clocks change: on 29 March 2026
// Dublin's went from 01:00 to 02:00 (IANA time zone database).
func TestNightsAreLocal(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	since := time.Date(2026, 3, 27, 12, 0, 0, 0, dublin)
	got := care.WatchFor(detect.SensorFault).Judge(since, care.Seen{Until: since.AddDate(0, 0, 9), Location: dublin})
	if want := time.Date(2026, 3, 30, 4, 0, 0, 0, time.UTC); !got.At.Equal(want) {
		t.Errorf("held at %s, want %s", got.At, want)
	}
}

// The outcome and its time do not depend on when, or how often, one asks.
func TestWatchDoesNotDependOnWhenItIsAsked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := seen(60)
		day := 0.0
		for range rapid.IntRange(0, 10).Draw(t, "cycles") {
			day += float64(rapid.IntRange(1, 8).Draw(t, "days"))
			s = cycles(s, cycle(day, rapid.SampledFrom([][]books.Reason{nil, {books.BrineLow}}).Draw(t, "reasons")...))
		}
		for range rapid.IntRange(0, 3).Draw(t, "alerts") {
			a := raised(detect.NightLeak, float64(rapid.IntRange(-5, 30).Draw(t, "onset")))
			a.Raised = a.Onset.Add(time.Duration(rapid.IntRange(0, 72).Draw(t, "raised")) * time.Hour)
			if rapid.Bool().Draw(t, "over") {
				a.Cleared = a.Raised.Add(time.Duration(rapid.IntRange(1, 240).Draw(t, "stands")) * time.Hour)
			}
			s = with(s, a)
		}
		w := care.WatchFor(rapid.SampledFrom(detect.Causes()).Draw(t, "cause"))
		want := w.Judge(noon, s)
		for asked := 0.0; asked <= 60; asked += 2.7 {
			then := seen(asked)
			then.Entries = s.Entries
			for _, a := range s.Alerts { // what was known then
				if a.Raised.After(then.Until) {
					continue
				}
				if a.Cleared.After(then.Until) {
					a.Cleared = time.Time{}
				}
				then.Alerts = append(then.Alerts, a)
			}
			if got := w.Judge(noon, then); got.Outcome != care.Pending && (got.Outcome != want.Outcome || !got.At.Equal(want.At)) {
				t.Fatalf("asked on day %v it was %s at %s, in the end %s at %s", asked, got.Outcome, got.At, want.Outcome, want.At)
			}
		}
	})
}
