package household

import "math/rand/v2"

// Fill is one filling of an appliance: it begins so long after the programme.
type Fill struct {
	After  float64 // minutes
	Litres float64
	Flow   float64 // L/min
}

// Appliance is a machine that takes its water in steps.
type Appliance struct {
	Fixture Fixture
	Fills   []Fill
	Minutes float64 // length of the programme
}

// drawWasher draws a machine that fills twice deep or four times shallow, in
// shares that keep the mean at the published litres a load.
func drawWasher(r *rand.Rand) Appliance {
	const deepShare, deep, shallow = 0.55, 1.28, 0.658 // of the mean
	flow := between(r, 8, 14)
	if chance(r, deepShare) {
		v := around(r, washLitres*deep, 0.15)
		return Appliance{Washer, []Fill{{0, 0.48 * v, flow}, {22, 0.06 * v, flow}, {26, 0.46 * v, flow}}, 45}
	}
	v := around(r, washLitres*shallow, 0.15)
	return Appliance{Washer, []Fill{{1, 0.26 * v, flow}, {6, 0.08 * v, flow}, {38, 0.22 * v, flow}, {49, 0.22 * v, flow}, {60, 0.22 * v, flow}}, 75}
}

func drawDishwasher(r *rand.Rand) *Appliance {
	v := around(r, dishLitres, 0.15)
	flow := between(r, 3, 5)
	return &Appliance{Dishwasher, []Fill{{1, 0.27 * v, flow}, {24, 0.24 * v, flow}, {58, 0.24 * v, flow}, {74, 0.25 * v, flow}}, 100}
}

// run appends the fills of a programme that begins at the minute of the day.
func (a *Appliance) run(d *day, minute float64) {
	for _, f := range a.Fills {
		d.use(a.Fixture, minute+f.After, f.Litres*around(d.r, 1, 0.06), f.Flow)
	}
}
