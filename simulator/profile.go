package simulator

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"brinebell/detect"
	"brinebell/simulator/household"
	"brinebell/simulator/sensor"
)

// Profiles says what sort of softeners are drawn.
type Profiles struct {
	Prefix     string // of the ids; empty: "home"
	Timezones  []string
	Pulses     []float64 // L, of the meters; empty: 0.1 and 1
	Signals    sensor.Set
	Population household.Population
}

// zones are where homes stand unless told otherwise: some change their clocks
// and some do not.
var zones = []string{"Europe/Dublin", "Europe/Berlin", "Europe/Rome", "America/New_York", "America/Denver", "America/Phoenix"}

// Profile draws the profile of a run's home: a household, hard water, and a
// softener sized for both, set as a careful installer would set it.
func Profile(seed uint64, index int, p Profiles) (detect.Home, error) {
	r := streamOf(seed, index, streamProfile)
	names := p.Timezones
	if len(names) == 0 {
		names = zones
	}
	loc, err := time.LoadLocation(names[r.IntN(len(names))])
	if err != nil {
		return detect.Home{}, fmt.Errorf("timezone of simulated homes: %w", err)
	}
	prefix := p.Prefix
	if prefix == "" {
		prefix = "home"
	}
	h := detect.DefaultHome(fmt.Sprintf("%s-%04d", prefix, index+1), loc)
	h.Name = fmt.Sprintf("House %d", index+1)
	people := household.Draw(seedOf(seed, index, streamHousehold), 0, p.Population, loc)
	h.Occupants = float64(len(people.People))
	if loc.String()[:3] == "Ame" {
		h.Units, h.Costs.Currency = detect.US, "USD"
	}
	h.Water.Hardness = math.Round(min(600, max(130, 290*math.Exp(0.32*r.NormFloat64()))))
	if r.Float64() < 0.25 {
		h.Water.Iron = math.Round(10*(0.1+1.4*r.Float64())) / 10
	}
	if g := people.Garden; g != nil && (r.Float64() < 0.6 || len(g.Zones) > 0) {
		h.Bypassed = []string{household.Irrigation.String()}
	}
	softener(r, &h, household.Typical(people, len(h.Bypassed) > 0))
	meters(r, &h, p)
	return h, nil
}

// settings are doses of salt in g per litre of resin with the capacity in eq/L
// that goes with them: common published settings, 4 to 15 lb/ft3 (the second
// is Virginia 12 VAC 5-590-900(D); the others common practice), less a tenth as
// installers do.
var settings = []struct{ dose, capacity float64 }{{64, 0.68}, {96, 0.84}, {128, 0.99}, {160, 1.1}, {240, 1.26}}

// sizes of resin beds in litres: half a cubic foot to two.
var sizes = []float64{14.2, 21.2, 28.3, 42.5, 56.6}

// ample is how much more than the household's typical use a softener is sized
// and a timed one set for; common practice.
const ample = 1.2

// ironAsHardness is the hardness that installers set for each mg/L of iron, four
// grains a gallon; common practice.
const ironAsHardness = 4 * detect.MgPerGrainPerGallon

func softener(r *rand.Rand, h *detect.Home, typical float64) {
	s := &h.Softener
	set := settings[[]int{0, 1, 1, 1, 2, 2, 3, 4}[r.IntN(8)]]
	s.Capacity = set.capacity
	daily := ample * typical * (h.Water.Hardness + ironAsHardness*h.Water.Iron) / 1000 / detect.EquivalentCaCO3 // eq
	s.Resin = sizes[len(sizes)-1]
	for _, size := range sizes {
		if size*set.capacity >= (3+4*r.Float64())*daily { // three to seven days between regenerations
			s.Resin = size
			break
		}
	}
	s.SaltDose = math.Round(set.dose*s.Resin/10) / 100
	s.Reserve = []float64{0.15, 0.2, 0.25}[r.IntN(3)]
	s.RefillBefore = r.Float64() < 0.25
	s.RegenerationTime = time.Duration([]int{2, 2, 2, 2, 0, 1, 3, 4}[r.IntN(8)]) * time.Hour
	s.DaysOverride = []int{14, 14, 21, 0}[r.IntN(4)]
	control(r, s, daily)
	programme(h)
}

func control(r *rand.Rand, s *detect.Softener, daily float64) {
	switch u := r.Float64(); {
	case u < 0.08:
		s.Control, s.Alternating = detect.MeteredImmediate, true
	case u < 0.18:
		s.Control = detect.MeteredImmediate
	case u < 0.28:
		s.Control = detect.Timed
		days := s.Capacity * s.Resin * (1 - s.Reserve) / daily
		s.DaysOverride = int(max(2, min(12, math.Floor(days))))
	}
}

// programme sets cycle and tank for the bed: flows go with its cross-section,
// the draw lasts as long as the brine and a slow rinse need, the refill makes
// the dose (0.359 kg of salt dissolve in a litre of water).
func programme(h *detect.Home) {
	s := &h.Softener
	size := math.Pow(s.Resin/28.3, 2.0/3)
	fast, slow := tenth(8*size), tenth(1.9*size)
	water := s.SaltDose / 0.359
	brine := water * 1.13
	refill := time.Duration(tenth(water/slow) * float64(time.Minute)).Round(6 * time.Second)
	draw := time.Duration(math.Round(45+brine/(0.32*slow))) * time.Minute
	s.Cycle = []detect.ProgrammeStep{
		{Phase: detect.Backwash, Duration: 10 * time.Minute, Flow: fast},
		{Phase: detect.BrineDraw, Duration: draw, Flow: slow},
		{Phase: detect.FastRinse, Duration: 6 * time.Minute, Flow: fast},
		{Phase: detect.Refill, Duration: refill, Flow: slow},
	}
	if s.RefillBefore {
		s.Cycle = append(s.Cycle[3:], s.Cycle[:3]...)
	}
	t := &h.BrineTank
	if s.Resin > 30 {
		t.Diameter = 560
	}
	rise := water * 1e6 / (math.Pi / 4 * t.Diameter * t.Diameter * t.SaltVoid)
	t.Float = max(350, math.Ceil((100+1.35*rise)/10)*10)
	t.Height = max(t.Height, t.Float+300)
}

func tenth(v float64) float64 { return math.Round(10*v) / 10 }

func meters(r *rand.Rand, h *detect.Home, p Profiles) {
	pulses := p.Pulses
	if len(pulses) == 0 {
		pulses = []float64{0.1, 0.1, 1}
	}
	draw := func(signals ...detect.Signal) *detect.Meter {
		m := detect.Meter{Pulse: pulses[r.IntN(len(pulses))], StartingFlow: []float64{0.05, 0.1, 0.2}[r.IntN(3)]}
		if !slices.ContainsFunc(signals, p.Signals.Has) {
			return nil
		}
		return &m
	}
	h.Meters.Inlet = draw(detect.InletVolume, detect.InletFlow)
	h.Meters.Service = draw(detect.ServiceVolume, detect.ServiceFlow)
	h.Meters.Drain = draw(detect.DrainVolume, detect.DrainFlow)
	if down := r.Float64() < 0.2; h.Meters.Service != nil {
		h.Meters.Service.Downstream = down
	}
}
