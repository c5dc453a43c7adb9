package simulator

import (
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// DemoDays is how many days the demonstration goes on.
const DemoDays = 180

// neighbour is one home of the demonstration.
type neighbour struct {
	id, name  string
	occupants float64
	resin     float64 // L
	garden    bool
	cause     detect.Cause // empty: healthy
	begins    float64      // days after the start
	severity  float64
	ramp      time.Duration
}

// neighbours are six homes of Brackenford, a small town that is on no map.
// Nothing is wrong for the first days, so that one sees what quiet looks like.
var neighbours = []neighbour{
	{id: "mill-lane-4", name: "4 Mill Lane", occupants: 3, resin: 28.3, cause: detect.FlapperLeak, begins: 5.4, severity: 0.55},
	{id: "station-road-12", name: "12 Station Road", occupants: 4, resin: 28.3, cause: detect.MeterJammed, begins: 6.3, severity: 1},
	{id: "orchard-close-2", name: "2 Orchard Close", occupants: 4, resin: 28.3, cause: detect.InjectorClogged, begins: 4, severity: 0.85, ramp: 8 * 24 * time.Hour},
	{id: "chapel-street-9", name: "9 Chapel Street", occupants: 2, resin: 21.2, cause: detect.SealsWorn, begins: 7.2, severity: 0.5},
	{id: "quarry-row-1", name: "1 Quarry Row", occupants: 3, resin: 21.2, cause: detect.SaltBridge, begins: 6.1, severity: 1},
	{id: "long-acre-7", name: "7 Long Acre", occupants: 5, resin: 42.5, garden: true},
}

// DemoTown makes six homes of the made-up town of Brackenford, five of them with
// a trouble of their own that begins some days after start: a cistern that runs, a service
// meter that jams while the inlet meter goes on, an injector that clogs, seals
// that let water to the drain, salt that bridges. The sixth, a busy family with
// a garden, is well.
func DemoTown(seed uint64, start time.Time) (*Town, error) {
	loc, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		return nil, fmt.Errorf("demo town: %w", err)
	}
	full, err := sensor.ParseSet("full")
	if err != nil {
		return nil, err
	}
	var homes []*Home
	for i, n := range neighbours {
		h, err := NewHome(n.profile(loc), n.options(seed, i, start.Truncate(time.Second), full))
		if err != nil {
			return nil, err
		}
		homes = append(homes, h)
	}
	return NewTown(homes, 0), nil
}

func (n neighbour) profile(loc *time.Location) detect.Home {
	h := detect.DefaultHome(n.id, loc)
	h.Name, h.Occupants = n.name, n.occupants
	h.Water.Hardness = 360
	s := &h.Softener
	s.Resin, s.Capacity = n.resin, 0.84
	s.SaltDose = tenth(0.096 * n.resin)
	programme(&h)
	for _, m := range []**detect.Meter{&h.Meters.Inlet, &h.Meters.Service, &h.Meters.Drain} {
		*m = &detect.Meter{Pulse: 0.1, StartingFlow: 0.05}
	}
	if n.garden {
		h.Bypassed = []string{household.Irrigation.String()}
	}
	return h
}

func (n neighbour) options(seed uint64, i int, start time.Time, signals sensor.Set) Options {
	people := household.Population{NoHolidays: true}
	if n.garden {
		people = household.Population{TimedIrrigation: 1, IceMaker: 1}
	}
	o := Options{Seed: seed, Index: i, Start: start, Days: DemoDays, Population: people, Sensors: sensor.Fitting{Signals: signals}}
	if n.cause != "" {
		begins := start.Add(time.Duration(n.begins * 24 * float64(time.Hour))).Truncate(time.Second)
		o.Faults = []fault.Fault{{Cause: n.cause, Start: begins, End: start.AddDate(0, 0, DemoDays), Severity: n.severity, Ramp: n.ramp}}
	}
	return o
}
