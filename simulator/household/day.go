package household

import (
	"math/rand/v2"
	"slices"
	"time"
)

// day collects the uses of one local day.
type day struct {
	r        *rand.Rand
	midnight int64 // local, Unix milliseconds
	date     time.Time
	uses     []Use
	gone     []span // when nobody is at home
	minutes  []float64
}

// span is a half-open span of Unix milliseconds.
type span struct{ from, to int64 }

func (s span) contains(t int64) bool { return t >= s.from && t < s.to }

// use adds a use of so many litres from a minute of the day, in whole seconds;
// a flow is nudged so that the litres stay.
func (d *day) use(f Fixture, minute, litres, flow float64) {
	start := d.midnight + int64(minute*60)*1000
	seconds := max(1, int64(litres/flow*60+0.5))
	flow = max(0.01, round(litres*60/float64(seconds), 0.01))
	for _, g := range d.gone {
		if f <= IceMaker && g.contains(start) {
			return
		}
	}
	d.uses = append(d.uses, Use{start, start + seconds*1000, flow, f})
}

func (d *day) weekend() bool {
	w := d.date.Weekday()
	return w == time.Saturday || w == time.Sunday
}

// later moves a weekend's morning: people sleep longer.
func (d *day) later(minute float64) float64 {
	const from, to, by = 5 * 60, 10 * 60, 45
	if d.weekend() && minute >= from && minute < to {
		return minute + by
	}
	return minute
}

// plan appends what the household uses on the day; extra is guests and growth,
// as people more than live there.
func (h *Household) plan(d *day, extra float64) {
	for i := range h.People {
		h.personal(d, &h.People[i], 1)
	}
	for ; extra > 0; extra-- {
		h.personal(d, &h.People[d.r.IntN(len(h.People))], min(1, extra))
	}
	people := float64(len(h.People))
	h.loads(d, &h.Washer, poisson(d.r, d.machines(washesPerDay*people)), &washerCumulative)
	if h.Dishwasher != nil { // it runs when it is full, so as evenly as a count can be
		mean := d.machines(dishesPerDay * people)
		h.loads(d, h.Dishwasher, int(mean+d.r.Float64()), &dishwasherCumulative)
	}
	for range poisson(d.r, othersPerDay*people) {
		d.use(Other, minuteOf(d.r, &fixtureCumulative), otherLitres*around(d.r, 1, 0.8), between(d.r, 4, 9))
	}
	h.trickles(d)
}

var (
	fixtureCumulative, _    = fixtureHours.cumulative()
	washerCumulative, _     = washerHours.cumulative()
	dishwasherCumulative, _ = dishwasherHours.cumulative()
)

// washingOf is the chance that a flush is followed by washed hands.
const washingOf = 0.7

// personal appends what one person does in a day, share times as often.
func (h *Household) personal(d *day, p *Person, share float64) {
	when := p.on(d)
	often := p.Activity * when.amount * share
	for range poisson(d.r, flushesPerDay*often) {
		at := d.later(minuteOf(d.r, &when.hours))
		d.use(Toilet, at, h.FlushLitres*between(d.r, 0.94, 1.06), h.CisternFlow)
		if chance(d.r, washingOf) {
			h.faucet(d, at+between(d.r, 0.1, 0.6))
		}
	}
	taps := faucetsPerDay*faucetLitres/h.TapLitres - flushesPerDay*washingOf
	for range poisson(d.r, taps*often/boutSize) {
		h.bout(d, d.later(minuteOf(d.r, &when.hours)))
	}
	h.wash(d, p, share)
}

// boutSize is the mean number of uses of a tap that come together, as when
// somebody cooks; common practice, no source.
const boutSize = 1.8

// bout appends one use of a tap and those that come with it.
func (h *Household) bout(d *day, minute float64) {
	h.faucet(d, minute)
	for chance(d.r, 1-1/boutSize) {
		minute += between(d.r, 0.6, 4)
		h.faucet(d, minute)
	}
}

// faucet appends one use of a tap: most are short, a few fill a sink.
func (h *Household) faucet(d *day, minute float64) {
	d.use(Faucet, minute, h.TapLitres*around(d.r, 1, 1.3), h.FaucetFlow*between(d.r, 0.6, 1.4))
}

// wash appends the day's showers and baths. Most come at the person's usual
// time, give or take half an hour, the rest whenever.
func (h *Household) wash(d *day, p *Person, share float64) {
	for range poisson(d.r, p.Showers*share) {
		at := p.ShowerAt + 20*max(-2, min(2, d.r.NormFloat64()))
		if chance(d.r, 0.25) {
			at = minuteOf(d.r, &p.on(d).hours)
		}
		flow := h.ShowerFlow * between(d.r, 0.95, 1.05)
		d.use(Shower, d.later(at), flow*p.Shower*around(d.r, 1, 0.3), flow)
	}
	for range poisson(d.r, p.Baths*share) {
		d.use(Bath, d.later(minuteOf(d.r, &p.on(d).hours)), bathLitres*around(d.r, 1, 0.15), between(d.r, 11, 16))
	}
}

// weekendWash is how much likelier a machine runs on a day of the weekend; the
// week's mean stays.
const weekendWash = 1.3

// machines is a day's mean number of loads, given the week's mean per day.
func (d *day) machines(mean float64) float64 {
	mean *= 7 / (5 + 2*weekendWash)
	if d.weekend() {
		mean *= weekendWash
	}
	return mean
}

// loads appends so many loads of a machine, one after the other.
func (h *Household) loads(d *day, a *Appliance, n int, hours *hourly) {
	d.minutes = d.minutes[:0]
	for range n {
		d.minutes = append(d.minutes, minuteOf(d.r, hours))
	}
	slices.Sort(d.minutes)
	free := 0.0
	for _, at := range d.minutes {
		at = max(at, free)
		a.run(d, at)
		free = at + a.Minutes
	}
}

// trickles appends what machines draw by themselves, at any hour.
func (h *Household) trickles(d *day) {
	if h.IceMaker {
		for at := between(d.r, 0, 240); at < 24*60; at += between(d.r, 90, 360) {
			d.use(IceMaker, at, 0.12, 1)
		}
	}
	if m := d.date.Month(); h.Humidifier && (m >= time.November || m <= time.March) {
		for at := between(d.r, 0, 60); at < 24*60; at += between(d.r, 25, 120) {
			d.use(Humidifier, at, between(d.r, 0.4, 0.9), 1.5)
		}
	}
}
