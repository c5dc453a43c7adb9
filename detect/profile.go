package detect

import "time"

// Home is one home's profile in canonical units. The zero value is not usable:
// start from DefaultHome or ReadHomes.
type Home struct {
	ID        string // [a-z0-9-]
	Name      string
	Location  *time.Location // of its local night
	Units     Units          // for the screen only
	Occupants float64
	Water     Water
	Softener  Softener
	BrineTank BrineTank
	Meters    Meters
	Bypassed  []string // taps fed before the softener
	Costs     Costs
	Away      []Span
}

// Units is the system of units a household reads.
type Units string

// The systems of units.
const (
	Metric Units = "metric"
	US     Units = "us"
)

// Water is the raw water, in mg/L; hardness as CaCO3.
type Water struct {
	Hardness, Iron, Manganese float64
}

// Control says what makes the softener regenerate.
type Control string

// The kinds of control.
const (
	MeteredDelayed   Control = "metered_delayed"   // when capacity is down to the reserve, at the set hour
	MeteredImmediate Control = "metered_immediate" // the moment capacity is used up
	Timed            Control = "timed"             // every so many days
)

// Salt is what the brine is made of.
type Salt string

// The salts.
const (
	SodiumChloride    Salt = "sodium_chloride"
	PotassiumChloride Salt = "potassium_chloride"
)

// Phase names a part of a regeneration. Brine draw includes the slow rinse that
// follows it without a change of the valve, where the programme does not list
// the slow rinse by itself.
type Phase string

// The phases.
const (
	Backwash  Phase = "backwash"
	BrineDraw Phase = "brine_draw"
	SlowRinse Phase = "slow_rinse"
	FastRinse Phase = "fast_rinse"
	Refill    Phase = "refill"
)

// ProgrammeStep is one phase as programmed in the valve. Flow is the drain's in
// every phase but refill, where it is the brine line's; L/min.
type ProgrammeStep struct {
	Phase    Phase
	Duration time.Duration
	Flow     float64
}

// Softener is the softener as set.
type Softener struct {
	Resin            float64 // L
	Capacity         float64 // eq per litre of resin, as set
	SaltDose         float64 // kg per regeneration
	Salt             Salt
	Control          Control
	RegenerationTime time.Duration // after local midnight
	DaysOverride     int           // at most so many days between regenerations; the interval when timed; 0: none
	Reserve          float64       // share of capacity, 0 to 1
	RefillBefore     bool          // brine is made ahead of the draw
	Alternating      bool          // two tanks in turn
	Cycle            []ProgrammeStep
}

// ProgrammeLength is how long the programmed cycle takes.
func (s Softener) ProgrammeLength() time.Duration {
	var sum time.Duration
	for _, p := range s.Cycle {
		sum += p.Duration
	}
	return sum
}

// BrineTank is the brine tank's shape in mm; SaltVoid is the share of a salt
// bed's volume that is pores. Float is the level at which the safety float
// closes; 0 means none. Well is the diameter of the brine well, which holds
// no salt.
type BrineTank struct {
	Diameter, Height, Grid, Float, Well float64
	SaltVoid                            float64
}

// Meter is one meter on a pipe. Pulse is its resolution in litres, 0 when it is
// continuous; StartingFlow the L/min below which it stands still.
type Meter struct {
	Pulse        float64
	StartingFlow float64
	Downstream   bool // service meter only: after the resin, so blind to regeneration water
}

// Meters are the meters that hang on the pipes; nil where there is none.
type Meters struct {
	Inlet, Service, Drain *Meter
}

// At is the meter of a flow point, or nil.
func (m Meters) At(point Signal) *Meter {
	switch point {
	case InletFlow:
		return m.Inlet
	case ServiceFlow:
		return m.Service
	case DrainFlow:
		return m.Drain
	}
	return nil
}

// Costs are what the household pays: Water per m3, Salt per kg.
type Costs struct {
	Water, Salt float64
	Currency    string // ISO 4217
}

// Span is a half-open span of time.
type Span struct {
	From, To time.Time
}

// Contains says whether t is in the span.
func (s Span) Contains(t time.Time) bool {
	return !t.Before(s.From) && t.Before(s.To)
}

// DefaultHome is a home about which nothing was said but its name and place: a
// common 28 L (1 ft3) softener at a low-salt setting behind hard water. Each
// figure is an ordinary household setting, common practice.
func DefaultHome(id string, loc *time.Location) Home {
	return Home{
		ID: id, Name: id, Location: loc, Units: Metric, Occupants: 2.5,
		Water: Water{Hardness: 300},
		Softener: Softener{
			Resin: 28.3, Capacity: 0.9, SaltDose: 2.7, Salt: SodiumChloride,
			Control: MeteredDelayed, RegenerationTime: 2 * time.Hour, DaysOverride: 14, Reserve: 0.2,
			Cycle: []ProgrammeStep{
				{Backwash, 10 * time.Minute, 8},
				{BrineDraw, 60 * time.Minute, 1.9},
				{FastRinse, 6 * time.Minute, 8},
				{Refill, 4 * time.Minute, 1.9},
			},
		},
		BrineTank: BrineTank{Diameter: 460, Height: 840, Float: 350, SaltVoid: 0.42, Well: 100},
		Costs:     Costs{Water: 3, Salt: 0.6, Currency: "EUR"},
	}
}
