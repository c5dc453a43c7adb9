package plant

import "math"

// The injector is a water jet pump. Constants are common practice: about a
// third as much brine as motive water makes 26 % brine into 10 %.
const (
	ratedPressure = 300.0 // kPa at which flows are as programmed
	entrained     = 0.34  // brine over all that goes to the drain, at the rated pressure
	suctionShare  = 0.12  // vacuum made, of the pressure across the nozzle
	backPressure  = 2.5   // a kPa behind the throat costs as much as so many before it
	valveHeight   = 1100  // mm above the floor
	brineHead     = 1.2 * 9.81e-3
	ratedLevel    = 120.0 // mm
)

// injector is the jet pump as it is now.
type injector struct {
	nozzle float64 // opening over a clean one
	line   float64 // opening of the brine line, air check and well screen
	air    float64 // share of the suction that draws air
	scale  float64 // of this specimen's suction
}

// flows are the motive water and the brine drawn, in L/min, when the pressure
// before the injector is p, behind it back, liquid stands at level in the tank
// and the programme calls for total at the rated pressure.
func (j *injector) flows(total, p, back, level float64) (motive, brine float64) {
	drive := max(0, p-back)
	motive = total * (1 - entrained) * j.nozzle * math.Sqrt(drive/ratedPressure)
	vacuum := suctionShare*max(0, p-backPressure*back)*j.nozzle - brineHead*(valveHeight-level)
	if vacuum <= 0 {
		return motive, 0
	}
	rated := suctionShare*ratedPressure - brineHead*(valveHeight-ratedLevel)
	brine = total * entrained * j.scale * j.nozzle * j.line * (1 - j.air) * math.Sqrt(vacuum/rated)
	return motive, brine
}
