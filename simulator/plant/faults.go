package plant

import "brinebell/detect"

// faults is what the present faults have done to the machine: each field is a
// property of a part, as it is when nothing is wrong unless said otherwise.
type faults struct {
	severity map[detect.Cause]float64

	capacitySet   float64 // litres between regenerations over the right setting
	reserveSet    float64 // reserve over the profile's
	counted       float64 // share of the water that the valve's meter counts
	unpowered     float64 // share of the day without power
	bypass        float64 // share of the water that goes round the softener
	drainOpen     float64 // opening of the drain line and its flow control
	floatAt       float64 // mm at which the float closes; 0: never
	brineLineOpen float64 // opening of the brine line as float and air check leave it
	seep          float64 // L/min into the brine tank outside the refill, at rated pressure
	sealLeak      float64 // L/min from inlet to drain in service, at rated pressure
	slip          float64 // share of the soft water that slipped past worn seals
	noSalt        bool
}

// What a fault of severity 1 does.
const (
	wrongHardness = 0.6  // of the hardness is missing in the setting
	wrongDose     = 0.6  // of the refill time is missing
	excessSetting = 1.0  // more than right, when settings err upward
	worstClog     = 0.96 // of the injector's opening
	worstDrain    = 0.97 // of the drain's
	worstSeep     = 0.25 // L/min
	worstSealLeak = 1.2  // L/min
	worstSlip     = 0.25
	worstPlug     = 0.92 // of the well screen, under mush
	foulSites     = 0.4
	foulKinetic   = 0.85
	spentSites    = 0.7
	clockHours    = 12.0
	worstBed      = 0.8 // of the bed's opening, as the root of its resistance
	bedChannel    = 0.15
	spentBed      = 1.0 // more resistance where beads have broken
)

// Set tells the plant that fault f is now present in a severity from 0 to 1; 0
// heals it, as a repair does. A cause that does not reach the plant is ignored.
func (p *Plant) Set(f detect.Cause, severity float64) {
	severity = min(max(severity, 0), 1)
	before := p.faults.severity[f]
	if severity == before {
		return
	}
	p.faults.severity[f] = severity
	p.flush()
	p.apply()
	if severity == 0 {
		p.mend(f)
	}
	p.still = false
}

// apply works out every part from the severities of all faults.
func (p *Plant) apply() {
	s := func(c detect.Cause) float64 { return p.faults.severity[c] }
	f := &p.faults
	high := p.setup.SettingsHigh
	f.capacitySet = 1 / (1 - wrongHardness*s(detect.SettingHardness))
	p.valve.refill = 1 - wrongDose*s(detect.SettingDose)
	if high {
		f.capacitySet = 1 / (1 + excessSetting*s(detect.SettingHardness))
		p.valve.refill = 1 + excessSetting*s(detect.SettingDose)
	}
	f.reserveSet = 1 - s(detect.SettingReserve)
	f.counted = (1 - s(detect.MeterJammed)) * (1 - s(detect.MeterCable))
	f.unpowered = s(detect.NoPower)
	f.bypass = s(detect.BypassLeftOpen)
	f.noSalt = s(detect.SaltEmpty) > 0
	f.drainOpen = 1 - worstDrain*s(detect.DrainRestricted)
	// What runs through a gap goes with its area.
	f.seep = worstSeep * s(detect.BrineValveLeak) * s(detect.BrineValveLeak)
	gap := s(detect.SealsWorn) * s(detect.SealsWorn)
	f.sealLeak, f.slip = worstSealLeak*gap, worstSlip*gap
	f.floatAt, f.brineLineOpen = p.home.BrineTank.Float, 1
	if stuck := s(detect.FloatStuck); stuck > 0 && p.setup.FloatStuckOpen {
		f.floatAt = 0
	} else {
		f.brineLineOpen = 1 - stuck
	}
	p.valve.jam = s(detect.DriveFailed)
	p.control.put(p.clockError(s(detect.ClockWrong)))
	p.applyBrine(s)
	p.applyBed(s)
	p.source = newSource(p.setup.Hardness*(1+hardnessGrows*s(detect.SourceChanged)), p.home.Water.Iron+ironComes*s(detect.SourceChanged))
}

func (p *Plant) applyBrine(s func(detect.Cause) float64) {
	p.injector.nozzle = 1 - worstClog*s(detect.InjectorClogged)
	// Air widens under suction, so that a little of it takes much of the place.
	tight := 1 - s(detect.BrineLineAir)
	p.injector.air = 1 - tight*tight
	p.injector.line = p.faults.brineLineOpen * (1 - worstPlug*s(detect.SaltMush))
	// A bridge is built from the salt at the liquid's edge: a half-made one
	// already leaves but a quarter of the salt within reach.
	reach := 1 - s(detect.SaltBridge)
	p.tank.SetBridge(1 - reach*reach)
	p.tank.SetMush(s(detect.SaltMush))
}

func (p *Plant) applyBed(s func(detect.Cause) float64) {
	open := 1 - worstBed*s(detect.BedClogged)
	for _, b := range p.beds {
		b.broken = (1 + spentBed*s(detect.ResinSpent)) / (open * open)
		b.uneven = bedChannel * s(detect.BedClogged)
		b.sites = p.setup.Sites * (1 - foulSites*s(detect.ResinFouled)) * (1 - spentSites*s(detect.ResinSpent))
		b.kinetic = 1 - foulKinetic*s(detect.ResinFouled)
		b.settle()
	}
}

// mend is what a repair does beside removing the fault.
func (p *Plant) mend(f detect.Cause) {
	switch f {
	case detect.DriveFailed:
		p.valve.repair()
	case detect.NoPower, detect.ClockWrong:
		p.lost = 0
		p.control.put(p.clockError(p.faults.severity[detect.ClockWrong]))
	case detect.ResinFouled, detect.ResinSpent:
		for _, b := range p.beds {
			b.renew()
		}
	}
}

// clockError is how far ahead of the house the valve's clock is, in s.
func (p *Plant) clockError(severity float64) float64 {
	wrong := severity * clockHours * 3600
	if p.setup.SlowClock {
		wrong = -wrong
	}
	return p.setup.ClockError.Seconds() + wrong - p.lost
}
