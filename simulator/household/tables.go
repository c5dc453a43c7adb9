package household

// Litres in a US gallon (231 in3), for figures published in gallons.
const litresPerGallon = 3.785411784

// What the population of homes uses. The published figures are those of the
// Residential End Uses of Water study, version 2 (DeOreo, Mayer, Dziegielewski,
// Kiefer, Water Research Foundation report 4309, 2016), partly by way of
// Fuentes & Mauricio 2020, partly from memory; testdata/tables/enduse.csv says
// which. Frequencies are per person and day.
const (
	flushesPerDay   = 5.0
	flushLitres     = 2.6 * litresPerGallon
	showersPerDay   = 0.69
	showerMinutes   = 7.8
	showerFlow      = 2.1 * litresPerGallon
	faucetsPerDay   = 17.0 // of which one follows most flushes
	faucetLitres    = 26.3 * litresPerGallon / meanPeople / faucetsPerDay
	faucetFlow      = 4.2 // common practice: a basin tap half open
	washesPerDay    = 22.7 / 31 / meanPeople
	washLitres      = 31 * litresPerGallon
	dishesPerDay    = 0.02 * 138 / 6.1 / meanPeople / dishwasherShare
	dishLitres      = 6.1 * litresPerGallon
	dishwasherShare = 0.75 // homes with one; common practice
	bathLitres      = 20 * litresPerGallon
	bathsPerDay     = 0.03 * 138 / 20 / meanPeople
	otherLitres     = 7.0
	othersPerDay    = 0.03 * 138 * litresPerGallon / otherLitres / meanPeople
)

// peopleShare is the share of homes with one, two, ... six people: the sizes
// of single-family homes, whose mean times the published use per person gives
// the published use per home. Common practice.
var peopleShare = [6]float64{0.23, 0.35, 0.17, 0.15, 0.06, 0.04}

const meanPeople = 2.58

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
