package chart

import (
	"strconv"
	"time"
)

// Axis is a span of time in a home's own clock.
type Axis struct {
	From, To   time.Time
	Location   *time.Location
	TwelveHour bool // hours as "2 am", dates as "Nov 24"
	// Weekday names a day of the week in a few letters; nil: in English.
	Weekday func(time.Weekday) string
}

// At is where t stands between From and To, held at the edges.
func (a Axis) At(t time.Time) float64 {
	span := a.To.Sub(a.From)
	if span <= 0 {
		return 0
	}
	return min(1, max(0, float64(t.Sub(a.From))/float64(span)))
}

// TimeTick is a line at a round moment; its label stands at LabelAt, which is
// the middle of the day when the axis counts days. A tick without a label is
// only a line.
type TimeTick struct {
	At, LabelAt float64
	Label, More string // More is written after Label where there is room
}

// daysFrom is the span above which the axis counts days instead of hours.
const daysFrom = 60 * time.Hour

// labelledShare is how much of a day must be on the axis for its name to fit.
const labelledShare = 0.75

// Ticks are the local midnights with the days' names between them, or round
// hours when the span is short.
func (a Axis) Ticks() []TimeTick {
	if !a.To.After(a.From) {
		return nil
	}
	if a.To.Sub(a.From) > daysFrom {
		return a.days()
	}
	return a.hours()
}

// Midnight is the local midnight at or before t in loc.
func Midnight(t time.Time, loc *time.Location) time.Time {
	y, m, d := t.In(loc).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, loc)
}

func (a Axis) days() []TimeTick {
	var ticks []TimeTick
	every := max(1, int(a.To.Sub(a.From).Hours()/24/7+0.5))
	for i, day := 0, Midnight(a.From, a.Location); day.Before(a.To); i, day = i+1, nextDay(day) {
		from, to := a.At(day), a.At(nextDay(day))
		tick := TimeTick{At: from, LabelAt: (from + to) / 2}
		whole := float64(nextDay(day).Sub(day)) / float64(a.To.Sub(a.From))
		if i%every == 0 && to-from >= labelledShare*whole {
			tick.Label, tick.More = a.dayName(day), strconv.Itoa(day.Day())
		}
		ticks = append(ticks, tick)
	}
	return ticks
}

func (a Axis) dayName(day time.Time) string {
	if a.Weekday == nil {
		return day.Format("Mon")
	}
	return a.Weekday(day.Weekday())
}

func nextDay(day time.Time) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d+1, 0, 0, 0, 0, day.Location())
}

// hourSteps are the round steps of an axis that counts hours.
var hourSteps = [...]time.Duration{5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute,
	time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour}

// mostHourLabels is how many hour labels fit side by side on a phone.
const mostHourLabels = 6

func (a Axis) hours() []TimeTick {
	step := hourSteps[len(hourSteps)-1]
	for _, s := range hourSteps {
		if a.To.Sub(a.From) <= s*mostHourLabels {
			step = s
			break
		}
	}
	var ticks []TimeTick
	for day := Midnight(a.From, a.Location); day.Before(a.To); day = nextDay(day) {
		for i := time.Duration(0); i*step < 24*time.Hour; i++ {
			t := wallClock(day, i*step)
			if at := a.At(t); !t.Before(a.From) && !t.After(a.To) {
				ticks = append(ticks, TimeTick{At: at, LabelAt: at, Label: a.hourName(t)})
			}
		}
	}
	return ticks
}

// wallClock is the moment at which the clocks of the day show so long after
// midnight, which is not so long after midnight where they change.
func wallClock(day time.Time, shown time.Duration) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, int(shown/time.Minute), 0, 0, day.Location())
}

func (a Axis) hourName(t time.Time) string {
	switch {
	case !a.TwelveHour:
		return t.Format("15:04")
	case t.Minute() == 0:
		return t.Format("3 pm")
	}
	return t.Format("3:04")
}
