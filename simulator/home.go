package simulator

import (
	"fmt"
	"math"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/simulator/fault"
	"brinebell/simulator/household"
	"brinebell/simulator/plant"
	"brinebell/simulator/sensor"
)

// Home is one home stepping through time. It is not safe for concurrent use.
type Home struct {
	profile detect.Home
	people  household.Household
	demand  *household.Demand
	plant   *plant.Plant
	devices []sensor.Device
	faults  breakdown
	weather weather
	trouble resets

	start    time.Time
	now, end int64 // Unix milliseconds
	turnAt   int64 // when weather, faults and people are looked at again
	saltDay  int   // the local day on which somebody last looked at the salt
	salt     saltRun
	state    plant.State
	truth    sensor.Truth
	out      []sensor.Sample
}

// NewHome makes a home of the profile. Sensors follow the profile's meters and
// the options' signals; the household has the profile's number of people.
func NewHome(profile detect.Home, o Options) (*Home, error) {
	if err := o.validate(); err != nil {
		return nil, fmt.Errorf("home %s: %w", profile.ID, err)
	}
	people := household.Draw(seedOf(o.Seed, o.Index, streamHousehold), int(profile.Occupants+0.5), o.Population, profile.Location)
	h := &Home{
		profile: profile, people: people, start: o.Start,
		now: o.Start.UnixMilli(), end: o.Start.AddDate(0, 0, o.Days).UnixMilli(),
		demand:  household.Play(people, o.Start, slices.Contains(profile.Bypassed, household.Irrigation.String())),
		weather: newWeather(streamOf(o.Seed, o.Index, streamWeather)),
	}
	setup := setupOf(o)
	h.salt = newSaltRun(profile, o.Faults)
	setup.Salt = h.salt.first(profile, o.Start)
	h.plant = plant.New(profile, setup)
	r := streamOf(o.Seed, o.Index, streamSensors)
	h.devices = sensor.Fit(profile, o.Sensors, r)
	if len(h.devices) == 0 {
		return nil, fmt.Errorf("home %s: none of the signals can be measured with the meters it has", profile.ID)
	}
	for i := range h.devices {
		h.devices[i].Start(h.now, r)
	}
	h.trouble = resets{r: r, perMonth: o.Sensors.Trouble.ResetsPer}
	if err := h.breakWith(o); err != nil {
		return nil, fmt.Errorf("home %s: %w", profile.ID, err)
	}
	h.tellOfAbsences()
	return h, nil
}

// tellOfAbsences adds to the profile the absences that the household speaks of
// beforehand, as the days it leaves and comes back.
func (h *Home) tellOfAbsences() {
	day := func(t time.Time, plus int) time.Time {
		return time.Date(t.Year(), t.Month(), t.Day()+plus, 0, 0, 0, 0, t.Location())
	}
	h.profile.Away = slices.Clone(h.profile.Away)
	for _, a := range h.people.Absences(h.start, time.UnixMilli(h.end)) {
		if a.Told {
			h.profile.Away = append(h.profile.Away, detect.Span{From: day(a.From, 0), To: day(a.To, 1)})
		}
	}
}

// setupOf draws how the real machine differs from its profile.
func setupOf(o Options) plant.Setup {
	r := streamOf(o.Seed, o.Index, streamPlant)
	return plant.Setup{
		Seed: r.Uint64(), Scatter: o.Scatter,
		ClockError:     time.Duration(r.NormFloat64() * float64(3*time.Minute)).Round(time.Second),
		Depleted:       math.Round(80*r.Float64()) / 100,
		SettingsHigh:   r.Float64() < 0.3,
		FloatStuckOpen: r.Float64() < 0.5,
		SlowClock:      r.Float64() < 0.5,
	}
}

func (h *Home) breakWith(o Options) error {
	r := streamOf(o.Seed, o.Index, streamFaults)
	mode := sensor.Modes()[r.IntN(len(sensor.Modes()))]
	if o.SensorMode != "" {
		mode = o.SensorMode
	}
	all := slices.Clone(o.Faults)
	for i := range all { // steps end on whole seconds
		all[i].Start, all[i].End = all[i].Start.Truncate(time.Second), all[i].End.Truncate(time.Second)
	}
	h.saltDay = o.Start.In(h.profile.Location).YearDay()
	h.faults = breakdown{
		r: r, all: all, level: make([]float64, len(o.Faults)),
		people: h.demand, plant: h.plant, devices: h.devices, mode: mode, broken: r.IntN(len(h.devices)),
	}
	return h.devices[0].Break(mode, false, h.truth) // an unknown mode shows here
}

// Profile is what the household says of its home.
func (h *Home) Profile() detect.Home { return h.profile }

// Faults are the home's faults.
func (h *Home) Faults() []fault.Fault { return h.faults.all }

// State is what the plant last did, for tests.
func (h *Home) State() plant.State { return h.state }

// Advance goes on until an instant in Unix milliseconds or the home's end, and
// appends to out, in order, what has arrived before it.
func (h *Home) Advance(until int64, out []sensor.Sample) []sensor.Sample {
	limit := until
	if until >= h.end { // what is on its way at the end still arrives
		until, limit = h.end, math.MaxInt64
	}
	for h.now < until {
		h.step()
	}
	sensor.Order(h.out)
	n := len(h.out)
	for n > 0 && h.out[n-1].Arrived >= limit {
		n--
	}
	out = append(out, h.out[:n]...)
	h.out = append(h.out[:0], h.out[n:]...)
	return out
}

// Longest steps. Idle steps end on whole minutes, so that a valve that starts
// at two starts at two.
const (
	idleStep    = int64(60_000)
	trickleStep = int64(30_000)
	flowStep    = int64(10_000)
	trickle     = 0.5 // L/min
)

// step advances to the next event.
func (h *Home) step() {
	if h.now >= h.turnAt {
		h.turn()
	}
	soft, bypassed, change := h.demand.Flow(h.now, h.weather.pressure)
	end := min(change, h.turnAt, h.longest(soft+bypassed), h.end)
	h.state = h.plant.Step(time.Duration(end-h.now)*time.Millisecond, plant.Draw{
		Soft: soft, Bypassed: bypassed,
		SupplyPressure: h.weather.pressure, Temperature: h.weather.temperature,
		Local: time.UnixMilli(h.now).In(h.profile.Location),
	})
	h.tell()
	h.out = sensor.Step(h.devices, h.now, end, &h.truth, h.out)
	h.now = end
}

// longest is when a step that begins now must end.
func (h *Home) longest(asked float64) int64 {
	busy := h.state.Regenerating || h.state.DrainFlow > 0 || h.state.InletFlow > trickle
	switch {
	case busy || asked > trickle:
		return h.now + flowStep
	case asked > 0 || h.state.InletFlow > 0:
		return h.now + trickleStep
	}
	return (h.now/idleStep + 1) * idleStep
}

// tell puts what the plant does where the sensors look. Flows are rounded, so
// that sums of them do not carry the last bit of one machine's arithmetic.
func (h *Home) tell() {
	s, t := &h.state, &h.truth
	t[detect.InletFlow] = fine(s.InletFlow)
	t[detect.ServiceFlow] = fine(s.ServiceFlow)
	if m := h.profile.Meters.Service; m != nil && m.Downstream {
		t[detect.ServiceFlow] = fine(min(s.SoftFlow, s.ServiceFlow))
	}
	t[detect.DrainFlow] = fine(s.DrainFlow)
	t[detect.BrineLevel], t[detect.SaltLevel] = s.BrineLevel, s.SaltLevel
	t[detect.InletPressure], t[detect.OutletPressure] = s.InletPressure, s.OutletPressure
	t[detect.ValvePower] = s.ValvePower
	t[detect.RawHardness], t[detect.ColdHardness], t[detect.HotHardness] = s.RawHardness, s.SoftHardness, s.HotHardness
	t[detect.RawIron], t[detect.SoftConductivity] = s.RawIron, s.SoftConductivity
	t[detect.WaterTemperature] = h.weather.temperature
	t[detect.FloorWet] = 0
	if s.FloorWet {
		t[detect.FloorWet] = 1
	}
}

// fine rounds to a thousandth of a millilitre.
func fine(v float64) float64 { return math.RoundToEven(v*1e6) / 1e6 }
