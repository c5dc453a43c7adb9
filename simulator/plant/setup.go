package plant

import (
	"math"
	"math/rand/v2"
	"time"

	"brinebell/detect"
	"brinebell/simulator/plant/column"
)

// Setup says how the real machine differs from its profile. The zero value is
// a machine just as the profile says, with new resin.
type Setup struct {
	Seed    uint64
	Scatter float64 // relative spread drawn from Seed for what is left zero below; 0: none

	Sites          float64       // share of new resin's sites that this bed has; 0: 1
	Injector       float64       // suction of the injector over the nominal; 0: 1
	RefillControl  float64       // refill flow over the programmed; 0: 1
	DrainControl   float64       // backwash and fast rinse flow over the programmed; 0: 1
	Pores          float64       // share of the salt bed that is pores; 0: the profile's
	Hardness       float64       // mg/L as CaCO3 of the water; 0: the profile's, which the valve is set for
	ClockError     time.Duration // of the valve's clock
	Salt           float64       // kg in the tank at first; 0: as high as DefaultSaltHeight
	Pickup         float64       // mm above the floor where the air check seats; 0: DefaultPickup
	Depleted       float64       // share of the capacity used at first
	SettingsHigh   bool          // wrong settings err upward: too much hardness, too much salt
	FloatStuckOpen bool          // a stuck float never closes instead of blocking the brine line; alone that shows nothing
	SlowClock      bool          // a wrong clock is behind instead of ahead
}

// Defaults of a Setup.
const (
	DefaultSaltHeight = 0.6 // of the tank
	DefaultPickup     = 50  // mm
)

func (s Setup) withDefaults(home detect.Home) Setup {
	rng := rand.New(rand.NewPCG(s.Seed, 0x706c616e74))
	// Every draw is made whether it is used or not, so that setting one field
	// leaves the others as they were.
	fill := func(v *float64, nominal, spread float64) {
		// Rounded, since the exponential's last bit differs between processors.
		factor := math.Round(1e6*math.Exp(spread*s.Scatter*rng.NormFloat64())) / 1e6
		if *v == 0 {
			*v = nominal * factor
		}
	}
	fill(&s.Sites, 1, 1)
	fill(&s.Injector, 1, 1)
	fill(&s.RefillControl, 1, 1)
	fill(&s.DrainControl, 1, 1)
	fill(&s.Pores, home.BrineTank.SaltVoid, 0.5)
	fill(&s.Hardness, home.Water.Hardness, 1)
	fill(&s.Pickup, DefaultPickup, 1)
	s.Sites = min(s.Sites, 1)
	if s.Salt == 0 {
		s.Salt = -1 // filled when the tank's shape is known
	}
	return s
}

// selectivity is the resin's against the ion of the home's salt.
func selectivity(s detect.Salt) column.Selectivity {
	if s == detect.PotassiumChloride {
		return column.Potassium()
	}
	return column.Sodium()
}

// Molar masses in g/mol.
const (
	molarSodiumChloride    = 58.4428
	molarPotassiumChloride = 74.5513
)

func molarMass(s detect.Salt) float64 {
	if s == detect.PotassiumChloride {
		return molarPotassiumChloride
	}
	return molarSodiumChloride
}
