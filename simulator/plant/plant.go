package plant

import (
	"time"

	"brinebell/detect"
)

// Draw is what the household asks of its plumbing during one step.
type Draw struct {
	Soft           float64   // L/min asked for at taps behind the softener
	Bypassed       float64   // L/min asked for at taps fed before the softener
	SupplyPressure float64   // kPa at the main, no flow
	Temperature    float64   // degC of the water
	Local          time.Time // local wall time at the start of the step; the valve's clock adds its own error
}

// State is what an all-seeing technician would read during one step. Flows are
// means over the step, everything else stands at its end.
type State struct {
	InletFlow        float64 // L/min, house main
	ServiceFlow      float64 // L/min into the softener, upstream of the resin: includes regeneration water
	DrainFlow        float64 // L/min down the softener's drain line
	SoftFlow         float64 // L/min that came out of the taps behind the softener
	BrineLevel       float64 // mm of liquid above the brine tank's floor
	SaltLevel        float64 // mm, top of the salt above the floor
	InletPressure    float64 // kPa before the softener
	OutletPressure   float64 // kPa behind it
	ValvePower       float64 // W
	RawHardness      float64 // mg/L as CaCO3 before the softener
	SoftHardness     float64 // mg/L as CaCO3 of the water that leaves it
	HotHardness      float64 // mg/L as CaCO3 in the water heater
	RawIron          float64 // mg/L before the softener
	SoftConductivity float64 // uS/cm of the water that leaves it
	FloorWet         bool    // the brine tank has run over
	Regenerating     bool    // truth, for tests and scoring only
}

// Plant is one softener with its brine tank, its pipes and the water heater
// behind it. It is not safe for concurrent use.
type Plant struct {
	home  detect.Home
	setup Setup
	state State
}

// Setup says how the real machine differs from the profile. The zero value is
// a machine that is just as the profile says.
type Setup struct {
	Seed uint64
}

// New is a plant in service, freshly regenerated and filled with salt.
func New(home detect.Home, setup Setup) *Plant {
	return &Plant{home: home, setup: setup}
}

// Step advances the plant by dt while the household draws d.
func (p *Plant) Step(dt time.Duration, d Draw) State {
	p.state.InletFlow, p.state.ServiceFlow, p.state.SoftFlow = d.Soft+d.Bypassed, d.Soft, d.Soft
	return p.state
}

// Set gives the plant fault f in severity 0 to 1; 0 heals it.
func (p *Plant) Set(f detect.Cause, severity float64) {}

// AddSalt pours kg of salt into the brine tank.
func (p *Plant) AddSalt(kg float64) {}
