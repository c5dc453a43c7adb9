package household

import (
	"math/rand/v2"
	"slices"
	"time"

	"brinebell/detect"
)

// Demand plays a household through time.
type Demand struct {
	home     Household
	bypassed bool // the garden's taps are fed before the softener
	days     *rand.Rand
	garden   *rand.Rand
	pending  []Use // sorted by start; those before next have begun
	next     int
	active   []Use
	leaks    leaks
	date     time.Time // the local day to plan next
	plannedY int       // year whose calendar is at hand
	gone     []span
	guests   []stay
	growth   float64 // people more than live there, as a share
	away     bool
}

// Play begins a household's life at start, which is taken back to local
// midnight. bypassedGarden says that the garden is fed before the softener.
func Play(h Household, start time.Time, bypassedGarden bool) *Demand {
	local := start.In(h.Location)
	d := &Demand{
		home: h, bypassed: bypassedGarden,
		days: stream(h.Seed, streamDays), garden: stream(h.Seed, streamGarden),
		date:  time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, h.Location),
		leaks: leaks{r: stream(h.Seed, streamLeaks+2<<16), refill: never},
	}
	return d
}

// Set brings on a plumbing or household fault at a severity of 0 to 1; 0 ends
// it. Growth shows from the next day planned, everything else at once.
func (d *Demand) Set(c detect.Cause, severity float64, now time.Time) {
	switch c {
	case detect.UseGrew:
		d.growth = severity
	case detect.AwayFromHome:
		d.away = severity > 0
	default:
		d.leaks.set(c, severity, now.UnixMilli(), &d.home)
	}
}

// Flow is what is asked of the pipes from now on, L/min, and until when that
// holds unless a fault is set. Times are Unix milliseconds and must not go
// back; pressure is the main's, kPa.
func (d *Demand) Flow(now int64, pressure float64) (soft, bypassed float64, until int64) {
	for now >= d.date.UnixMilli() {
		d.planDay()
	}
	d.begin(now)
	soft, until = d.leaks.flow(now, pressure, &d.home)
	until = min(until, d.date.UnixMilli())
	if d.next < len(d.pending) {
		until = min(until, d.pending[d.next].Start)
	}
	for _, u := range d.active {
		until = min(until, u.End)
		if u.Fixture == Irrigation && d.bypassed {
			bypassed += u.Flow
		} else {
			soft += u.Flow
		}
	}
	return soft, bypassed, until
}

// begin moves uses from pending to active and drops those that have ended.
func (d *Demand) begin(now int64) {
	d.active = slices.DeleteFunc(d.active, func(u Use) bool { return u.End <= now })
	for ; d.next < len(d.pending) && d.pending[d.next].Start <= now; d.next++ {
		u := d.pending[d.next]
		if u.End > now && !(d.away && u.Fixture <= IceMaker) {
			d.active = append(d.active, u)
		}
	}
}

// Active are the uses that flow, leaks aside. The slice is valid until the next
// call of Flow.
func (d *Demand) Active() []Use { return d.active }

// planDay plans d.date and moves on to the next local day.
func (d *Demand) planDay() {
	d.turnYear(d.date.Year())
	midnight := d.date.UnixMilli()
	p := day{r: d.days, midnight: midnight, date: d.date, gone: d.gone}
	p.uses = append(d.pending[:0], d.pending[d.next:]...)
	d.home.plan(&p, d.extra(midnight))
	p.r = d.garden
	if d.home.Garden != nil {
		d.home.Garden.water(&p)
	}
	if d.home.Pool {
		fillPool(&p, d.home.Seed)
	}
	slices.SortStableFunc(p.uses, func(a, b Use) int {
		if a.Start != b.Start {
			return int((a.Start - b.Start) / 1000)
		}
		return int(a.Fixture) - int(b.Fixture)
	})
	d.pending, d.next = p.uses, 0
	d.date = d.date.AddDate(0, 0, 1)
}

// extra is how many people more than live there use water on the day.
func (d *Demand) extra(midnight int64) float64 {
	extra := d.growth * float64(len(d.home.People))
	for _, g := range d.guests {
		if g.contains(midnight + 18*3600_000) {
			extra += g.people
		}
	}
	return extra
}

// turnYear lays out the calendar of the year and the one before, whose last
// holiday may reach over.
func (d *Demand) turnYear(y int) {
	if y == d.plannedY {
		return
	}
	d.plannedY, d.gone, d.guests = y, d.gone[:0], d.guests[:0]
	for _, c := range []year{d.home.calendarOf(y - 1), d.home.calendarOf(y)} {
		for _, a := range c.away {
			d.gone = append(d.gone, span{a.From.UnixMilli(), a.To.UnixMilli()})
		}
		d.guests = append(d.guests, c.guests...)
	}
}
