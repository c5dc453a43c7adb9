package column

import "math"

// Properties of water at 20 degC and of calcium chloride in it: kinematic
// viscosity and diffusivity, m2/s. Handbook values, from memory.
const (
	viscosity   = 1.0e-6
	diffusivity = 1.2e-9
)

// filmCache remembers the last film rate, since households draw at few flows.
type filmCache struct{ flow, kinetic, rate float64 }

// filmRate is the rate of transfer through the water's film round the beads in
// 1/s, per litre of bed, at a flow in L/s: Sh = 1.09/voids (Re Sc)^(1/3),
// Wilson and Geankoplis, Ind. Eng. Chem. Fundam. 5, 9 (1966), for Re 0.0016
// to 55, times the beads' surface 6 (1 - voids)/d.
func (c *Column) filmRate(flow float64) float64 {
	if flow == c.film.flow && c.kinetic == c.film.kinetic {
		return c.film.rate
	}
	d := c.options.Bead / 1000
	u := flow / 1000 / c.area
	sherwood := 1.09 / c.options.Voids * math.Cbrt(u*d/diffusivity)
	rate := sherwood * diffusivity / d * 6 * (1 - c.options.Voids) / d * c.kinetic
	c.film = filmCache{flow, c.kinetic, rate}
	return rate
}
