package plant

import "time"

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
	SoftHardness     float64 // mg/L as CaCO3 of the water that went to the soft taps last
	HotHardness      float64 // mg/L as CaCO3 in the water heater
	RawIron          float64 // mg/L before the softener
	SoftConductivity float64 // uS/cm of the water that went to the soft taps last
	FloorWet         bool    // the brine tank has run over within the last hours
	Regenerating     bool    // truth, for tests and scoring only
}

// show writes what stands still into the state.
func (p *Plant) show() {
	s := &p.state
	s.BrineLevel, s.SaltLevel = p.tank.Level(), p.tank.SaltLevel()
	s.RawHardness, s.RawIron = p.source.hardness, p.source.iron
	s.Regenerating = p.regenerating()
}

func (p *Plant) regenerating() bool { return p.valve.running || p.valve.position != service }
