package series

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

var clockStart = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// hearHours lets a device report each minute for some hours, ahead by its clock's
// error, each reading after the delay.
func hearHours(c *Clock, from, hours int, ahead time.Duration, delay func(minute int) time.Duration) {
	for m := from * 60; m < (from+hours)*60; m++ {
		at := clockStart.Add(time.Duration(m) * time.Minute)
		c.Hear(at.Add(ahead), at.Add(delay(m)))
	}
}

func second(int) time.Duration { return time.Second }

func nearly(t *testing.T, c *Clock, want time.Duration) {
	t.Helper()
	ahead, _, ok := c.Error()
	if d := ahead - want; !ok || d.Abs() > 2*time.Second {
		t.Errorf("ahead by %v (%v), want %v", ahead, ok, want)
	}
}

func TestClockIsToldFromArrival(t *testing.T) {
	for _, ahead := range []time.Duration{0, 7 * time.Hour, -7 * time.Hour, 20 * time.Minute, -24 * time.Hour, 3 * time.Second} {
		var c Clock
		hearHours(&c, 0, 3, ahead, second)
		if _, _, ok := c.Error(); ok {
			t.Errorf("%v: sure after three hours", ahead)
		}
		hearHours(&c, 3, 2, ahead, second)
		nearly(t, &c, ahead)
		_, since, wrong := c.Wrong()
		if wrong != (ahead.Abs() > ClockSound) {
			t.Errorf("%v: wrong is %v", ahead, wrong)
		}
		if wrong && since.Sub(clockStart).Abs() > time.Hour {
			t.Errorf("since %s", since)
		}
		at := clockStart.Add(50 * time.Hour)
		if d := c.Right(at.Add(ahead)).Sub(at); d.Abs() > ClockSound {
			t.Errorf("%v: put right within %v", ahead, d)
		}
	}
}

// Readings kept through an outage are no clock's error: neither while they come,
// nor when a slow link takes hours for them.
func TestBacklogIsNoWrongClock(t *testing.T) {
	var c Clock
	hearHours(&c, 0, 10, 0, second)
	for m := range 30 * 60 { // thirty hours are uploaded in one hour's arrivals
		c.Hear(clockStart.Add(10*time.Hour+time.Duration(m)*time.Minute), clockStart.Add(40*time.Hour))
	}
	nearly(t, &c, 0)
	hearHours(&c, 41, 1, 0, func(int) time.Duration { return 9 * time.Hour }) // and an hour of nothing but old ones
	nearly(t, &c, 0)
	hearHours(&c, 42, 6, 0, second)
	nearly(t, &c, 0)
}

// Batches of a quarter of an hour and doubles leave the least delay as it is.
func TestBatchesAndDoubles(t *testing.T) {
	for _, ahead := range []time.Duration{0, -3 * time.Hour} {
		var c Clock
		hearHours(&c, 0, 8, ahead, func(m int) time.Duration { return time.Duration(15-m%15) * time.Minute })
		for m := range 480 {
			at := clockStart.Add(time.Duration(m) * time.Minute)
			c.Hear(at.Add(ahead), at.Add(50*time.Minute))
		}
		got, _, ok := c.Error()
		if d := got - ahead; !ok || d.Abs() > 90*time.Second {
			t.Errorf("%v, want %v", got, ahead)
		}
	}
}

// A clock that is put right, or goes wrong, is followed within some hours, and
// never taken for something in between.
func TestClockThatChanges(t *testing.T) {
	var c Clock
	hearHours(&c, 0, 20, 0, second)
	for h := 20; h < 30; h++ {
		hearHours(&c, h, 1, -2*time.Hour, second)
		ahead, _, ok := c.Error()
		if ok && ahead.Abs() > 2*time.Second && (ahead+2*time.Hour).Abs() > 2*time.Second {
			t.Errorf("after %d hours: %v", h-19, ahead)
		}
		if h >= 24 && !ok {
			t.Errorf("after %d hours: nothing", h-19)
		}
	}
	nearly(t, &c, -2*time.Hour)
}

func TestClockOfAnArchiveIsNotJudged(t *testing.T) {
	var c Clock
	hearHours(&c, 0, 24, -400*24*time.Hour, second)
	if _, _, ok := c.Error(); ok {
		t.Error("a year-old archive is no wrong clock")
	}
}

// Whatever the delays, the error said is never further ahead than the truth, nor
// behind it by more than the least delay of most hours.
func TestClockErrorIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ahead := time.Duration(rapid.Int64Range(-1e5, 1e5).Draw(t, "ahead")) * time.Second
		var c Clock
		hearHours(&c, 0, 12, ahead, func(int) time.Duration {
			return time.Duration(rapid.Int64Range(0, 60).Draw(t, "delay")) * time.Second
		})
		got, _, ok := c.Error()
		if !ok || got > ahead || got < ahead-60*time.Second {
			t.Fatalf("%v (%v), want %v", got, ok, ahead)
		}
	})
}

func BenchmarkClock(b *testing.B) {
	var c Clock
	at := clockStart
	b.ReportAllocs()
	for b.Loop() {
		at = at.Add(10 * time.Second)
		c.Hear(at, at.Add(time.Second))
	}
}
