package simulator

import (
	"errors"
	"math/rand/v2"
	"time"

	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// Options says how one home is simulated.
type Options struct {
	Seed       uint64 // of the run
	Index      int    // of the home in the run; with Seed it gives everything random
	Start      time.Time
	Days       int
	Sensors    sensor.Fitting       // Interval zero: DefaultInterval
	Population household.Population // the household is drawn from
	Faults     []fault.Fault
	SensorMode sensor.Mode // how sensor_fault shows; empty: drawn
	Scatter    float64     // spread of the real machine around its profile; 0: DefaultScatter
}

// Defaults of the Options.
const (
	DefaultInterval = 10 * time.Second
	DefaultScatter  = 0.04
)

func (o *Options) validate() error {
	switch {
	case o.Start.IsZero():
		return errors.New("simulated home has no start")
	case o.Days <= 0:
		return errors.New("simulated home needs at least a day")
	case o.Sensors.Signals == 0:
		return errors.New("simulated home has no sensors")
	case o.Sensors.Interval < 0 || o.Sensors.Interval > time.Hour:
		return errors.New("sensors report between every second and every hour")
	}
	if o.Sensors.Interval == 0 {
		o.Sensors.Interval = DefaultInterval
	}
	if o.Scatter == 0 {
		o.Scatter = DefaultScatter
	}
	return nil
}

// The streams of a home: one for each thing that is random.
const (
	streamHousehold uint64 = iota + 1
	streamPlant
	streamSensors
	streamWeather
	streamFaults
	streamProfile
)

// seedOf mixes the run's seed, the home's index and the purpose.
func seedOf(seed uint64, index int, purpose uint64) uint64 {
	return rand.NewPCG(seed, uint64(index)<<8|purpose).Uint64()
}

func streamOf(seed uint64, index int, purpose uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, uint64(index)<<8|purpose))
}
