package plant

import (
	"math/rand/v2"

	"brinebell/detect"
	"brinebell/simulator/plant/brinetank"
	"brinebell/simulator/plant/column"
)

// room is the temperature in degC where the brine tank stands.
const room = 18

// Plant is one softener with its brine tank, its pipes and the water heater
// behind it. It is not safe for concurrent use.
type Plant struct {
	home     detect.Home
	setup    Setup
	state    State
	source   source
	beds     []*resinBed // one, or two that take turns
	serving  int         // bed in service
	washing  int         // bed that is or was last regenerated
	tank     *brinetank.Tank
	injector injector
	pipes    pipes
	valve    valve
	control  control
	faults   faults
	wall     wall
	lost     float64 // s that the valve's clock stood still
	still    bool    // nothing happens until someone draws or the hour strikes
	lifted   litres  // of the backwash so far
	wet      float64 // s for which the floor stays wet
	molar    float64 // g/mol of the salt
}

// litres is a volume that came, against the one that should have.
type litres struct{ came, due float64 }

// New is a plant in service, freshly regenerated, with the salt and the brine
// of a tank that was refilled after its last regeneration.
func New(home detect.Home, setup Setup) *Plant {
	setup = setup.withDefaults(home)
	p := &Plant{home: home, setup: setup, control: newControl(home), molar: molarMass(home.Softener.Salt)}
	p.faults.severity = make(map[detect.Cause]float64, len(detect.Causes()))
	p.source = newSource(setup.Hardness, home.Water.Iron)
	p.injector.scale = setup.Injector
	p.valve.programme = programme(home.Softener)
	p.valve.rng = rand.New(rand.NewPCG(setup.Seed, 0x76616c7665))
	p.tank = newTank(home, setup)
	count := 1
	if home.Softener.Alternating {
		count = 2
	}
	for range count {
		b := newResinBed(home, setup, p.source.water)
		p.beds = append(p.beds, b)
	}
	p.pipes = pipes{bed: newBed(p.beds[0].column.Options()), clog: 1, thick: 1, temperature: 20}
	p.control.counted = setup.Depleted * p.control.capacity
	p.apply()
	p.show()
	soft := p.beds[0].soft
	p.state.SoftHardness, p.state.HotHardness = hardness(soft), hardness(soft)
	p.state.SoftConductivity = p.source.conductivity(soft)
	return p
}

// newTank is a tank with its brine from the last refill. Brine made ahead is
// made at the next regeneration, so there the tank begins drawn down.
func newTank(home detect.Home, setup Setup) *brinetank.Tank {
	t, b := home.BrineTank, brinetank.BrineOf(home.Softener.Salt)
	kg := setup.Salt
	if kg < 0 {
		kg = b.Holds(t, DefaultSaltHeight*t.Height)
	}
	tank := brinetank.New(t, b, setup.Pores, setup.Pickup, room, kg, setup.Pickup)
	if !home.Softener.RefillBefore {
		for _, c := range home.Softener.Cycle {
			if c.Phase == detect.Refill {
				tank.Fill(c.Flow * setup.RefillControl * c.Duration.Minutes())
			}
		}
		const overnight = 12 * 3600
		for range overnight / 600 {
			tank.Dissolve(600)
		}
	}
	return tank
}

// newResinBed is a bed that has been through enough regenerations to be as
// they leave it, and has then served the share that the setup says.
func newResinBed(home detect.Home, setup Setup, raw column.Water) *resinBed {
	o := column.Options{Resin: home.Softener.Resin, Selectivity: selectivity(home.Softener.Salt)}
	b := &resinBed{column: column.New(o, raw), broken: 1, sites: setup.Sites, kinetic: 1}
	b.settle()
	b.season(home.Softener, raw)
	if raw.Hardness() > 0 {
		used := max(setup.Depleted, 1e-3) * between(home.Softener, raw)
		b.soft = b.column.Advance(used, used*secondsPerLitre, raw, false)
	}
	b.passed = 0
	return b
}

// seasons is how many regenerations bring new resin to where it stays.
const seasons = 4

// mostBetween is the bed volumes of water, however soft, after which somebody
// has long regenerated.
const mostBetween = 1000

// between is the water in L for which the set capacity lasts.
func between(s detect.Softener, raw column.Water) float64 {
	return min(s.Capacity/raw.Hardness(), mostBetween) * s.Resin
}

// Paces of a season in s/L: a tap's, and the brine draw's.
const (
	secondsPerLitre = 6
	drawPerLitre    = 32
)

// season runs the bed through plain regenerations of the profile's dose, each
// after the use that the control would allow.
func (b *resinBed) season(s detect.Softener, raw column.Water) {
	if raw.Hardness() <= 0 || s.SaltDose <= 0 {
		return
	}
	const strength = entrained * 0.3175 // kg/L in the bed, of saturated brine
	brine := column.Water{Total: strength * 1000 / molarMass(s.Salt)}
	use := (1 - s.Reserve/2) * between(s, raw)
	for range seasons {
		b.column.Advance(use, use*secondsPerLitre, raw, false)
		b.column.Advance(s.SaltDose/strength, s.SaltDose/strength*drawPerLitre, brine, false)
		b.column.Advance(2*s.Resin, 2*s.Resin*drawPerLitre, raw, false)
		b.column.Advance(2*s.Resin, 2*s.Resin*secondsPerLitre, raw, false)
	}
}

// AddSalt pours kg of salt into the brine tank, unless the fault salt_empty
// says that nobody does.
func (p *Plant) AddSalt(kg float64) {
	if p.faults.noSalt {
		return
	}
	p.tank.AddSalt(kg)
	p.still = false
}

// Regenerate starts a regeneration by hand, as someone does at the valve's
// button. It does nothing while one runs, without power, or when the drive has
// failed.
func (p *Plant) Regenerate() {
	if p.faults.unpowered < 1 && p.valve.start() {
		p.began()
	}
	p.still = false
}

// Salt is the salt in the tank that is not dissolved, in kg.
func (p *Plant) Salt() float64 { return p.tank.Salt() }

// Loaded is the share of the serving bed's sites that hold hardness.
func (p *Plant) Loaded() float64 {
	p.flush()
	return p.beds[p.serving].column.Loaded()
}

// flush brings the serving bed up to the last drop.
func (p *Plant) flush() { p.beds[p.serving].flush(p.source.water) }
