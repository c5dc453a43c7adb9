package plant

import (
	"math"

	"brinebell/simulator/plant/column"
)

// Resistances of pipes and valve in kPa/(L/min)^2: turbulent, so that the loss
// goes with the square of the flow. A service line loses some 70 kPa and a
// control valve some 30 at 38 L/min (10 gpm); a drain line that is lifted to a
// standpipe costs some 25 at a backwash of 8 L/min: common practice.
const (
	serviceLine  = 0.05
	controlValve = 0.02
	drainLine    = 0.4
)

// tapsThrottle is the pressure in kPa below which taps no longer give what was
// asked of them.
const tapsThrottle = 100

// leastDraw in L/min is less than any drip.
const leastDraw = 1e-9

// bed is the hydraulic resistance of a resin bed after Ergun, Chem. Eng. Prog.
// 48, 89 (1952): linear and square term, in kPa per L/min and (L/min)^2.
type bed struct{ linear, square float64 }

// newBed is the clean bed's resistance in water of 20 degC.
func newBed(o column.Options) bed {
	d, e := o.Bead/1000, o.Voids
	u := 1.0 / 60000 / o.Area() // m/s of one L/min
	const pascal = 1000
	return bed{
		linear: 150 * viscosity(20) * (1 - e) * (1 - e) * u / (e * e * e * d * d) * o.Depth() / pascal,
		square: 1.75 * 998 * (1 - e) * u * u / (e * e * e * d) * o.Depth() / pascal,
	}
}

// viscosity of water in Pa s at a temperature in degC: Vogel's equation,
// 2.414e-5 10^(247.8/(T-140)), handbook form from memory, within 2.5 %.
func viscosity(temperature float64) float64 {
	return 2.414e-5 * math.Pow(10, 247.8/(temperature+273.15-140))
}

// pipes holds the resistances as they are now.
type pipes struct {
	bed         bed
	clog        float64 // times the clean bed
	temperature float64 // degC for which thick was worked out
	thick       float64 // viscosity over that at 20 degC
}

// warm brings the viscosity up to date; water changes slowly, so a quarter of a
// degree is near enough.
func (h *pipes) warm(temperature float64) {
	if math.Abs(temperature-h.temperature) < 0.25 {
		return
	}
	h.temperature = temperature
	h.thick = viscosity(temperature) / viscosity(20)
}

// loss through the bed in kPa at a flow in L/min.
func (h *pipes) loss(flow float64) float64 {
	return h.clog * (h.bed.linear*h.thick + h.bed.square*flow) * flow
}

// deliver is how much of what is asked comes out of the taps, and the pressures
// before and after the softener, when the share through the bed is given and
// other flows (to the drain) go with it. Taps give what is asked while they have
// the pressure for it; below that their opening is fixed and flow goes with the
// root of the pressure: (b + throttle/asked^2) Q^2 + a Q = supply.
func (h *pipes) deliver(supply, asked, other, throughBed, throughValve float64) (flow, before, after float64) {
	linear := h.clog * h.bed.linear * h.thick * throughBed
	square := controlValve*throughValve*throughValve + h.clog*h.bed.square*throughBed*throughBed
	all := asked + other
	before = supply - serviceLine*all*all
	after = before - (linear+square*asked)*asked
	if after >= tapsThrottle || asked < leastDraw {
		return asked, max(before, 0), max(after, 0)
	}
	left := max(0, supply-serviceLine*other*other)
	b := square + serviceLine + tapsThrottle/(asked*asked)
	a := linear + 2*serviceLine*other
	flow = min(asked, (math.Sqrt(a*a+4*b*left)-a)/(2*b))
	before = supply - serviceLine*(flow+other)*(flow+other)
	return flow, max(before, 0), max(before-(linear+square*flow)*flow, 0)
}
