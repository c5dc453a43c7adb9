package household

import (
	"math/rand/v2"
	"time"
)

// Absence is a time when nobody is at home; Told when the household would
// have said so beforehand.
type Absence struct {
	From, To time.Time
	Told     bool
}

// Days is the absence's length.
func (a Absence) Days() float64 { return a.To.Sub(a.From).Hours() / 24 }

// stay is a visit of so many people.
type stay struct {
	span
	people float64
}

// year is what one calendar year brings.
type year struct {
	away   []Absence
	guests []stay
}

// calendarOf plans a year: one or two long holidays, a few weekends, a few
// visits. The same household has the same year whenever it is asked. Common
// practice; no source.
func (h *Household) calendarOf(y int) year {
	var c year
	if !h.holidayMaking {
		return c
	}
	r := stream(h.Seed, streamCalendar^uint64(y)<<32)
	for range 1 + r.IntN(2) {
		c.away = append(c.away, h.absence(r, y, between(r, 5, 14)))
	}
	for range r.IntN(5) {
		c.away = append(c.away, h.absence(r, y, between(r, 1, 3)))
	}
	for range r.IntN(4) {
		from := h.dayIn(y, r.IntN(355), 12)
		to := from.AddDate(0, 0, 1+r.IntN(8))
		c.guests = append(c.guests, stay{span{from.UnixMilli(), to.UnixMilli()}, float64(1 + r.IntN(3))})
	}
	return c
}

// absence begins between seven and noon and ends in an afternoon or evening.
func (h *Household) absence(r *rand.Rand, y int, days float64) Absence {
	n := r.IntN(350)
	return Absence{
		From: h.dayIn(y, n, 7+r.IntN(6)),
		To:   h.dayIn(y, n+int(days+0.5), 13+r.IntN(9)),
		Told: chance(r, 0.5),
	}
}

func (h *Household) dayIn(y, n, hour int) time.Time {
	return time.Date(y, time.January, 1+n, hour, 0, 0, 0, h.Location)
}

// Absences are the household's absences that touch the span, in no order.
func (h *Household) Absences(from, to time.Time) []Absence {
	var all []Absence
	for y := from.In(h.Location).Year() - 1; y <= to.In(h.Location).Year(); y++ {
		for _, a := range h.calendarOf(y).away {
			if a.To.After(from) && a.From.Before(to) {
				all = append(all, a)
			}
		}
	}
	return all
}
