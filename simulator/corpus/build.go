package corpus

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"brinebell/detect"
	"brinebell/simulator"
	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// Split is a part of a corpus.
type Split string

// The parts.
const (
	Train Split = "train" // may be tuned on
	Check Split = "check" // for the score alone
)

// Seed is the seed of a part.
func (s *Spec) Seed(part Split) (uint64, error) {
	switch part {
	case Train:
		return s.Seeds.Train, nil
	case Check:
		return s.Seeds.Check, nil
	}
	return 0, fmt.Errorf("unknown part %q of a corpus: use train or check", string(part))
}

// Sink takes what arrives, in order.
type Sink interface {
	Reading(detect.Reading) error
}

// Build makes the homes of a part of the corpus. workers 0 means as many as
// there are processors.
func Build(s Spec, part Split, workers int) (*simulator.Town, error) {
	seed, err := s.Seed(part)
	if err != nil {
		return nil, err
	}
	homes := make([]*simulator.Home, s.Homes)
	for i := range homes {
		if homes[i], err = s.home(seed, i); err != nil {
			return nil, err
		}
	}
	return simulator.NewTown(homes, workers), nil
}

// Run plays a part of the corpus to the end and hands what arrives to sink, in
// order of time, at constant memory.
func Run(ctx context.Context, s Spec, part Split, workers int, sink Sink) error {
	t, err := Build(s, part, workers)
	if err != nil {
		return err
	}
	return t.Run(ctx, func(a simulator.Arrival) error { return sink.Reading(a.Reading) })
}

// home makes home i of a run.
func (s *Spec) home(seed uint64, i int) (*simulator.Home, error) {
	r := rand.New(rand.NewPCG(seed, uint64(i)<<8|0xc0))
	people := household.Ordinary()
	if r.Float64() < float64(s.Population.Difficult) {
		people = household.Difficult()
	}
	people.NoHolidays = s.Population.Quiet
	p := simulator.Profiles{Timezones: s.Population.Timezones, Signals: s.Signals.Set, Population: people}
	for _, v := range s.Sensors.Pulses {
		p.Pulses = append(p.Pulses, float64(v))
	}
	profile, err := simulator.Profile(seed, i, p)
	if err != nil {
		return nil, err
	}
	return simulator.NewHome(profile, simulator.Options{
		Seed: seed, Index: i, Start: s.Start.Time, Days: s.Days,
		Sensors: s.fitting(), Population: people, SensorMode: s.Sensors.Fault, Scatter: float64(s.Population.Scatter),
		Faults: s.faults(r, i),
	})
}

// faults draws what breaks in home i.
func (s *Spec) faults(r *rand.Rand, i int) []fault.Fault {
	length := time.Duration(s.Days) * 24 * time.Hour
	var all []fault.Fault
	if r.Float64() < float64(s.Faults.Share) {
		u := [4]float64{r.Float64(), r.Float64(), r.Float64(), r.Float64()}
		for _, d := range s.Faults.Mix.of(i, u) {
			all = append(all, s.Faults.place(d, r, s.Start.Time, length))
		}
	}
	if seed := r.Uint64(); s.Faults.BackgroundLeaks {
		cause, severity := household.BackgroundCause(seed, household.Background(seed))
		all = append(all, fault.Fault{Cause: cause, Severity: severity, Start: s.Start.Time, End: s.Start.Add(length)})
	}
	return all
}

func (s *Spec) fitting() sensor.Fitting {
	t := s.Sensors
	return sensor.Fitting{
		Signals: s.Signals.Set, Interval: time.Duration(s.Interval), Jitter: time.Duration(t.Jitter),
		Trouble: sensor.Trouble{
			Link: sensor.Link{Lost: float64(t.Lost), Twice: float64(t.Twice), OutagesPer: t.Outages,
				Outage: time.Duration(t.Outage), Buffer: t.Buffer},
			Clock: time.Duration(t.Clock), ClockDrift: t.ClockDrift, ResetsPer: t.Resets,
			Wrap: float64(t.Wrap), Aged: float64(t.Aged), Temperature: t.Temperature,
		},
	}
}
