package simulator

import (
	"testing"
	"time"

	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

var day0 = time.Date(2025, 9, 1, 0, 0, 0, 0, time.UTC)

// someHomes makes homes of one run; faults, if given, by index.
func someHomes(t testing.TB, n, days int, kit string, faults func(i int) []fault.Fault) []*Home {
	t.Helper()
	signals, err := sensor.ParseSet(kit)
	if err != nil {
		t.Fatal(err)
	}
	var homes []*Home
	for i := range n {
		profile, err := Profile(7, i, Profiles{Signals: signals, Population: household.Ordinary()})
		if err != nil {
			t.Fatal(err)
		}
		o := Options{Seed: 7, Index: i, Start: day0, Days: days, Sensors: sensor.Fitting{Signals: signals}, Population: household.Ordinary()}
		if faults != nil {
			o.Faults = faults(i)
		}
		h, err := NewHome(profile, o)
		if err != nil {
			t.Fatal(err)
		}
		homes = append(homes, h)
	}
	return homes
}
