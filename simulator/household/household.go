package household

import (
	"math/rand/v2"
	"time"
)

// Population says what sort of homes are drawn. Shares are of homes, 0 to 1.
// The zero value is a population without gardens or difficult lives.
type Population struct {
	TimedIrrigation float64 // garden watered by a clock
	HandWatering    float64 // garden watered with a hose, of the rest
	NightWorker     float64 // somebody lives ten hours later than the others
	IceMaker        float64
	Humidifier      float64 // fed from the pipe in winter
	Pool            float64 // filled once a year, with a hose, for most of a day
	NoHolidays      bool    // nobody travels and nobody visits
}

// Ordinary is a population of ordinary homes. Common practice; no source.
func Ordinary() Population {
	return Population{TimedIrrigation: 0.2, HandWatering: 0.35, NightWorker: 0.02, IceMaker: 0.1, Humidifier: 0.06, Pool: 0.01}
}

// Difficult is a population of homes that are hard to judge from their water.
func Difficult() Population {
	return Population{TimedIrrigation: 0.6, HandWatering: 0.5, NightWorker: 0.25, IceMaker: 0.4, Humidifier: 0.3, Pool: 0.08}
}

// Person is one of a household, with the habits that tell people apart.
type Person struct {
	Activity float64 // times the mean frequency of everything
	Night    float64 // times the mean between midnight and five
	Later    int     // hours that this life runs behind the others
	Showers  float64 // per day
	ShowerAt float64 // usual minute of the day
	Shower   float64 // usual minutes
	Baths    float64 // per day
	weekday  rhythm
	weekend  rhythm
}

// rhythm is when somebody uses water: a distribution function of the hours, and
// how much of the mean a day's uses come to.
type rhythm struct {
	hours  hourly
	amount float64
}

func (p *Person) rhythmOf(h hourly) rhythm {
	c, sum := h.nights(p.Night).rotated(p.Later).cumulative()
	return rhythm{c, sum}
}

// on is the person's rhythm of the day.
func (p *Person) on(d *day) *rhythm {
	if d.weekend() {
		return &p.weekend
	}
	return &p.weekday
}

// Household is the people and fixtures of one home.
type Household struct {
	Seed          uint64
	Location      *time.Location
	People        []Person
	FlushLitres   float64
	CisternFlow   float64 // L/min
	FaucetFlow    float64
	TapLitres     float64 // mean of one use of a tap: who opens it for less does so more often
	ShowerFlow    float64
	Washer        Appliance
	Dishwasher    *Appliance // nil without one
	IceMaker      bool
	Humidifier    bool
	Pool          bool
	Garden        *Garden // nil without one
	Salt          SaltHabit
	CisternRefill float64 // L lost before a leaking cistern's valve opens
	holidayMaking bool
}

// Draw invents a household of so many people from the population; people 0
// draws their number too.
func Draw(seed uint64, people int, p Population, loc *time.Location) Household {
	r := stream(seed, streamDraw)
	if n := 1 + pick(r, peopleShare[:]); people <= 0 {
		people = n
	}
	h := Household{
		Seed: seed, Location: loc,
		FlushLitres:   max(4.5, around(r, flushLitres, 0.28)),
		CisternFlow:   round(between(r, 6, 12), 0.01),
		FaucetFlow:    around(r, faucetFlow, 0.2),
		TapLitres:     faucetLitres * around(r, 1, 0.45),
		ShowerFlow:    around(r, showerFlow, 0.22),
		Washer:        drawWasher(r),
		IceMaker:      chance(r, p.IceMaker),
		Humidifier:    chance(r, p.Humidifier),
		Pool:          chance(r, p.Pool),
		Salt:          drawSaltHabit(r),
		CisternRefill: between(r, 0.4, 2),
		holidayMaking: !p.NoHolidays,
	}
	if chance(r, dishwasherShare) {
		h.Dishwasher = drawDishwasher(r)
	}
	thrift := perHead(people) * around(r, 1, 0.25) // households differ more than the people in them
	worker := -1
	if chance(r, p.NightWorker) {
		worker = r.IntN(people)
	}
	for i := range people {
		h.People = append(h.People, drawPerson(r, thrift, i == worker))
	}
	h.Garden = drawGarden(r, p)
	return h
}

func drawPerson(r *rand.Rand, thrift float64, nightWorker bool) Person {
	p := Person{
		Activity: thrift * around(r, 1, 0.2),
		Night:    0.4,
		Showers:  thrift * min(1.5, around(r, showersPerDay, 0.35)),
		Shower:   around(r, showerMinutes, 0.25),
	}
	if chance(r, 0.3) { // three in ten get up at night: four tenths of the rest's 0.4 keep the mean at 1
		p.Night = 2.4
	}
	if nightWorker {
		p.Later = 10
	}
	if chance(r, 0.25) { // a quarter bathe, so four times the mean
		p.Baths = 4 * bathsPerDay
	}
	hours := fixtureHours.late()
	if chance(r, 0.5) {
		hours = fixtureHours.early()
	}
	p.weekend = p.rhythmOf(hours)
	p.weekday = p.rhythmOf(hours.staying())
	if chance(r, outShare) {
		p.weekday = p.rhythmOf(hours.out())
	}
	p.ShowerAt = minuteOf(r, &p.weekday.hours)
	return p
}

// minuteOf draws a minute of the day from a distribution function of hours.
func minuteOf(r *rand.Rand, cumulative *hourly) float64 {
	u := r.Float64()
	for hour, c := range cumulative {
		if u < c {
			return 60 * (float64(hour) + r.Float64())
		}
	}
	return 60 * (23 + r.Float64())
}
