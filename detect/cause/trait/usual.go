package trait

import "math"

const (
	// memory is over how many regenerations the usual is a mean.
	memory = 20
	// profileScatter is how far a home's own usual lies from what its programme
	// says, one standard deviation of the logarithm: pores, flow controls and
	// pressures are each known to some percent only. Common practice, no source.
	profileScatter = 0.16
	// ownScatter is the same of one regeneration about the home's own mean.
	ownScatter = 0.08
	// knownAfter is how many regenerations make a usual where no programme does.
	knownAfter = 2
)

// Usual is the mean of a trait's values over the home's past: of logarithms, or
// of the values themselves where they may be nothing.
type Usual struct {
	Mean float64
	N    float64 // regenerations behind it, at most memory
	Var  float64 // of the values about it
}

func (u *Usual) learn(v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	u.N = math.Min(u.N+1, memory)
	off := v - u.Mean
	if u.N > 1 {
		u.Var += (off*off - u.Var) / (u.N - 1)
	}
	u.Mean += off / u.N
}

// scatter is the standard deviation of a value at this home, never below what
// any regeneration scatters by.
func (u *Usual) scatter() float64 { return math.Max(ownScatter, math.Sqrt(u.Var)) }

// off is how far v lies from the usual, NaN where that is not known yet. With a
// programme value the usual is shrunk to it while little has been seen (a normal
// mean with a normal prior).
func (u *Usual) off(v, programme float64) float64 {
	if programme == programme {
		prior, data := 1/(profileScatter*profileScatter), u.N/(ownScatter*ownScatter)
		return v - (programme*prior+u.Mean*data)/(prior+data)
	}
	if u.N < knownAfter {
		return math.NaN()
	}
	return v - u.Mean
}
