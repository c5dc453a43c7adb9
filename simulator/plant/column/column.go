package column

import "math"

// Water is a solution: hardness by ion and all cations together, in eq/L. What
// is not calcium or magnesium is the monovalent ion of the salt.
type Water struct {
	Calcium, Magnesium, Total float64
}

// Hardness is calcium and magnesium together, eq/L.
func (w Water) Hardness() float64 { return w.Calcium + w.Magnesium }

// cell is one well-mixed slice of the bed. Loads are per litre of bed.
type cell struct {
	ca, mg float64 // on the resin, eq/L of bed
	water  Water   // in the pores
}

// Column is a bed of resin. It is advanced by volumes of water, since nothing
// worth computing happens while it stands.
type Column struct {
	options Options
	cells   []cell
	bed     float64 // L of bed in one cell
	pores   float64 // L of water in one cell
	area    float64 // m2
	sites   float64 // eq/L of bed that still exchange
	kinetic float64 // 0 to 1 of the clean resin's rates
	channel float64 // share of the water that finds a way past the resin
	sealed  float64 // eq of hardness locked up with lost sites
	film    filmCache
}

// New is a column with its resin wholly in the form of the salt, standing in w.
func New(o Options, w Water) *Column {
	o = o.withDefaults()
	c := &Column{options: o, cells: make([]cell, o.Cells), sites: o.Capacity, kinetic: 1}
	c.bed = o.Resin / float64(o.Cells)
	c.pores = c.bed * o.Voids
	c.area = o.Area()
	for i := range c.cells {
		c.cells[i].water = Water{Total: w.Total}
	}
	return c
}

// Advance pushes litres of feed through the bed in the given seconds, downward,
// or upward when up is set, and returns the mean of what left it.
func (c *Column) Advance(litres, seconds float64, feed Water, up bool) Water {
	if litres <= 0 {
		return c.cells[len(c.cells)-1].water
	}
	through := litres * (1 - c.channel)
	n := math.Max(1, math.Ceil(through/(c.pores*c.chunk(feed))))
	part, dt := through/n, seconds/n
	var sum Water
	for range int(n) {
		out := c.push(part, dt, feed, up)
		sum.Calcium += out.Calcium
		sum.Magnesium += out.Magnesium
		sum.Total += out.Total
	}
	return Mix(Water{sum.Calcium / n, sum.Magnesium / n, sum.Total / n}, feed, c.channel)
}

// Mix is water a with the given share of b in it.
func Mix(a, b Water, share float64) Water {
	return Water{
		Calcium:   a.Calcium + share*(b.Calcium-a.Calcium),
		Magnesium: a.Magnesium + share*(b.Magnesium-a.Magnesium),
		Total:     a.Total + share*(b.Total-a.Total),
	}
}

// Chunks of water in pore volumes of a cell. Brine moves a front of strength
// that must not be smeared; tap water changes a cell by less than a percent
// for each pore volume.
const (
	chunkBrine  = 1
	chunkWater  = 8
	strongWater = 0.05 // eq/L, above which it is brine
)

func (c *Column) chunk(feed Water) float64 {
	if feed.Total > strongWater || c.cells[0].water.Total > strongWater || c.cells[len(c.cells)-1].water.Total > strongWater {
		return chunkBrine
	}
	return chunkWater
}

// push moves one chunk from cell to cell. In each the balance of the water and
// the exchange with the resin are solved together and implicitly, the
// equilibrium linearised about the load, so that the step is stable however
// fast the exchange; what leaves the water enters the resin to the last bit.
func (c *Column) push(litres, dt float64, in Water, up bool) Water {
	film := c.filmRate(litres / dt)
	solid := c.options.Particle * c.kinetic
	for i := range c.cells {
		at := &c.cells[i]
		if up {
			at = &c.cells[len(c.cells)-1-i]
		}
		total := (c.pores*at.water.Total + litres*in.Total) / (c.pores + litres)
		bal := c.options.Selectivity.solve(at.ca, at.mg, c.sites, total)
		// Film and particle in series, both as a rate on the water's side, 1/s.
		rate := 1 / (1/film + total/(c.sites*solid))
		kappa := rate * c.bed * dt
		ca := c.exchange(at.water.Calcium, in.Calcium, litres, kappa, bal.ca, bal.caSlope)
		mg := c.exchange(at.water.Magnesium, in.Magnesium, litres, kappa, bal.mg, bal.mgSlope)
		ca, mg = c.bound(at, in, litres, ca, mg)
		at.ca += ca / c.bed
		at.mg += mg / c.bed
		at.water.Calcium = (c.pores*at.water.Calcium + litres*in.Calcium - ca) / (c.pores + litres)
		at.water.Magnesium = (c.pores*at.water.Magnesium + litres*in.Magnesium - mg) / (c.pores + litres)
		at.water.Total = total
		in = at.water
	}
	return in
}

// exchange is the hardness in eq that passes from water to resin during a
// chunk, of one ion: kappa (c - c*), c and c* those at its end.
func (c *Column) exchange(old, in, litres, kappa, equilibrium, slope float64) float64 {
	volume := c.pores + litres
	held := (c.pores*old + litres*in) / volume
	return kappa * (held - equilibrium) / (1 + kappa*(1/volume+slope/c.bed))
}

// bound keeps resin and water from giving more than they have and the resin
// from holding more than its sites, without touching the balance.
func (c *Column) bound(at *cell, in Water, litres, ca, mg float64) (boundedCa, boundedMg float64) {
	ca = min(max(ca, -at.ca*c.bed), c.pores*at.water.Calcium+litres*in.Calcium)
	mg = min(max(mg, -at.mg*c.bed), c.pores*at.water.Magnesium+litres*in.Magnesium)
	room := (c.sites - at.ca - at.mg) * c.bed
	if taken := ca + mg; taken > room && taken > 0 {
		if ca > 0 && mg > 0 {
			ca, mg = ca*room/taken, mg*room/taken
		} else if ca > 0 {
			ca = room - mg
		} else {
			mg = room - ca
		}
	}
	return ca, mg
}
