package column

import "math"

// Defaults of a household softener's resin.
const (
	DefaultCapacity = 2.0  // eq/L of bed, gel resin of 8 % DVB when new: Franks, Water Technology, Oct 2014
	DefaultVoids    = 0.38 // of the bed, spheres of mixed size poured at random; common practice
	DefaultBead     = 0.6  // mm, middle of the 16 to 50 mesh sold for softening; common practice
	DefaultCells    = 16
	DefaultParticle = 0.0035 // 1/s: an interdiffusion of 2e-11 m2/s in 0.6 mm beads
	DefaultSlender  = 3.3    // a 230 mm tank round 28 L; common practice
)

// Options describe a column. Zero values take the defaults.
type Options struct {
	Resin       float64     // L of bed
	Capacity    float64     // eq/L of bed
	Selectivity Selectivity // default: against sodium
	Cells       int         // well-mixed slices: what stands for spreading along the bed
	Voids       float64     // share of the bed that is water
	Bead        float64     // mm
	Particle    float64     // 1/s, exchange within the bead: 15 D/r^2 (Glueckauf 1955)
	Slender     float64     // depth of the bed over its diameter
}

func (o Options) withDefaults() Options {
	set := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	set(&o.Capacity, DefaultCapacity)
	set(&o.Voids, DefaultVoids)
	set(&o.Bead, DefaultBead)
	set(&o.Particle, DefaultParticle)
	set(&o.Slender, DefaultSlender)
	if o.Cells == 0 {
		o.Cells = DefaultCells
	}
	if o.Selectivity == (Selectivity{}) {
		o.Selectivity = Sodium()
	}
	return o
}

// Area is the bed's cross-section in m2, Depth its depth in m.
func (o Options) Area() float64 {
	d := math.Cbrt(4 * o.Resin / 1000 / (math.Pi * o.Slender))
	return math.Pi / 4 * d * d
}

// Depth is the bed's depth in m.
func (o Options) Depth() float64 { return o.Resin / 1000 / o.Area() }
