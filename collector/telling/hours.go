package telling

import (
	"time"

	"brinebell/detect/care"
)

// due is when something that is not to be acted on now may come on a channel, at
// or after a time, by the clock of the home.
func due(now time.Time, loc *time.Location, c care.Channel) time.Time {
	from, to := c.From, c.To
	if from == 0 && to == 0 {
		from, to = WakingFrom, WakingTo
	}
	local := now.In(loc)
	start := func(day int) time.Time { return onDay(local, day, from) }
	if c.Digest {
		for day := 0; ; day++ {
			if s := start(day); !s.Before(now) {
				return s.UTC()
			}
		}
	}
	of := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute + time.Duration(local.Second())*time.Second
	inside := from <= of && of < to
	if from >= to { // spans midnight, or is the whole day
		inside = of >= from || of < to
	}
	if inside {
		return now.UTC()
	}
	if s := start(0); !s.Before(now) {
		return s.UTC()
	}
	return start(1).UTC()
}

// onDay is an hour of the day so many days after a local time, by the wall
// clock.
func onDay(local time.Time, days int, hour time.Duration) time.Time {
	return time.Date(local.Year(), local.Month(), local.Day()+days, 0, int(hour.Minutes()), 0, 0, local.Location())
}
