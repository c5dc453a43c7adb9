package household

import "math"

// Litres in a US gallon (231 in3), for figures published in gallons.
const litresPerGallon = 3.785411784

// What the population of homes uses. The published figures are those of the
// Residential End Uses of Water study, version 2 (DeOreo, Mayer, Dziegielewski,
// Kiefer, Water Research Foundation report 4309, 2016), partly by way of
// Fuentes & Mauricio 2020, partly from memory; testdata/tables/enduse.csv says
// which. Frequencies are per person and day.
const (
	flushesPerDay   = 5.1 / atHome
	flushLitres     = 2.6 * litresPerGallon
	showersPerDay   = 0.71 / atHome
	showerMinutes   = 7.8
	showerFlow      = 2.1 * litresPerGallon
	faucetsPerDay   = 17.0 / atHome // of which one follows most flushes
	faucetLitres    = 26.3 * litresPerGallon / meanPeople / (faucetsPerDay * atHome)
	faucetFlow      = 4.2 // common practice: a basin tap half open
	washesPerDay    = 22.7 / 31 / meanPeople / atHome
	washLitres      = 31 * litresPerGallon
	dishesPerDay    = 0.02 * 138 / 6.1 / meanPeople / dishwasherShare / atHome
	dishLitres      = 6.1 * litresPerGallon
	dishwasherShare = 0.75 // homes with one; common practice
	bathLitres      = 20 * litresPerGallon
	bathsPerDay     = 0.03 * 138 / 20 / meanPeople / atHome
	otherLitres     = 7.0
	othersPerDay    = 0.03 * 138 * litresPerGallon / otherLitres / meanPeople / atHome
)

// atHome is the share of days on which nobody is away, guests set against it;
// the published figures are of all days.
const atHome = 0.97

// peopleShare is the share of homes with one, two, ... six people, such that
// the published use per home and per person (138 and 58.6 US gal a day: 2.35
// people) and per home and flush (33.1 gal a day in 5.0 flushes of 2.6 gal each:
// 2.55 people) both hold as well as they can.
var peopleShare = [6]float64{0.27, 0.36, 0.155, 0.13, 0.055, 0.03}

const meanPeople = 2.43

// economy is the power of its size by which a bigger household uses less a
// head; common practice, no source.
const economy = -0.2

// perHead is how much one person of n uses over the mean person of the
// population.
func perHead(n int) float64 {
	sum := 0.0
	for i, share := range peopleShare {
		sum += share * math.Pow(float64(i+1), 1+economy)
	}
	return meanPeople / sum * math.Pow(float64(n), economy)
}

// hourly is a share of a day's uses for each hour from midnight.
type hourly [24]float64

// The hours at which water is used: the hourly schedules of the U.S. Department
// of Energy's Building America house simulation protocols (NREL, 2014), for
// fixtures, clothes washers and dishwashers. testdata/tables/enduse_hourly.csv
// holds the same figures for the test.
var (
	fixtureHours = hourly{.012, .006, .004, .005, .010, .034, .078, .087, .080, .067, .056, .047,
		.040, .035, .033, .031, .039, .051, .060, .060, .055, .048, .038, .026}
	washerHours = hourly{.009, .007, .004, .004, .007, .011, .022, .049, .073, .086, .084, .075,
		.067, .060, .049, .052, .050, .049, .049, .049, .049, .047, .032, .017}
	dishwasherHours = hourly{.015, .007, .005, .003, .003, .010, .020, .031, .058, .065, .056, .048,
		.041, .046, .036, .038, .038, .049, .087, .111, .090, .067, .044, .031}
)

// rotated is the pattern of a life lived the given hours later.
func (h hourly) rotated(hours int) hourly {
	var r hourly
	for i, v := range h {
		r[(i+hours)%24] = v
	}
	return r
}

// asleep is how much of the mean one uses in the hours in which the other half
// of the people is up: early risers from ten in the evening, late ones until
// seven. The two halves together keep the pattern. Common practice; no source.
const asleep = 0.15

// early is the pattern of who rises early, late of who goes to bed late.
func (h hourly) early() hourly { return h.chronotype(1) }
func (h hourly) late() hourly  { return h.chronotype(-1) }

func (h hourly) chronotype(sign float64) hourly {
	var w hourly
	evening, morning, rest := 0.0, 0.0, 0.0
	for i, v := range h {
		switch {
		case i >= 22 || i < 3:
			w[i], evening = asleep-1, evening+v
		case i >= 4 && i < 7:
			w[i], morning = 1-asleep, morning+v
		default:
			rest += v
		}
	}
	for i := range h {
		if w[i] == 0 {
			w[i] = (1 - asleep) * (evening - morning) / rest
		}
		h[i] *= 1 + sign*w[i]
	}
	return h
}

// outShare of the people leave for the day on weekdays, and their taps rest but
// for outRest of what would be; the others are at home the more. Common
// practice; no source. Both lives together keep the published pattern.
const (
	outShare = 0.45
	outRest  = 0.05
	outFrom  = 9 // hours
	outTo    = 17
)

// out is the weekday pattern of somebody who leaves for the day, in shares of
// all the person's use.
func (h hourly) out() hourly {
	for i := outFrom; i < outTo; i++ {
		h[i] *= outRest
	}
	_, sum := h.cumulative()
	for i := range h {
		h[i] /= sum
	}
	return h
}

// staying is the weekday pattern of everybody else: what is left of the
// published one when those who are out have taken their share.
func (h hourly) staying() hourly {
	_, sum := h.cumulative()
	out := h.out()
	for i := range h {
		h[i] = (h[i]/sum - outShare*out[i]) / (1 - outShare)
	}
	return h
}

// nights is the pattern with the hours from midnight to five taken factor times
// as often.
func (h hourly) nights(factor float64) hourly {
	for i := range 5 {
		h[i] *= factor
	}
	return h
}

// cumulative turns shares into a distribution function that ends at 1.
func (h hourly) cumulative() (c hourly, sum float64) {
	for i, v := range h {
		sum += v
		c[i] = sum
	}
	for i := range c {
		c[i] /= sum
	}
	return c, sum
}
