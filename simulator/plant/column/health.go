package column

// Least shares of a healthy bed that stay, so that a ruined bed is still a bed.
const (
	leastSites   = 0.02
	leastKinetic = 0.01
	mostChannel  = 0.95
)

// SetHealth says what share of the resin's sites still exchange and at what
// share of a clean bead's rates. What was held on sites that are lost is locked
// up with them; sites that return do so in the form of the salt.
func (c *Column) SetHealth(sites, kinetic float64) {
	next := c.options.Capacity * min(max(sites, leastSites), 1)
	if next < c.sites {
		kept := next / c.sites
		for i := range c.cells {
			at := &c.cells[i]
			c.sealed += (at.ca + at.mg) * (1 - kept) * c.bed
			at.ca *= kept
			at.mg *= kept
		}
	}
	c.sites = next
	c.kinetic = min(max(kinetic, leastKinetic), 1)
}

// SetChannel says what share of the water finds a way past the resin.
func (c *Column) SetChannel(share float64) { c.channel = min(max(share, 0), mostChannel) }

// Renew puts the whole bed back into the form of the salt, as a technician does
// who cleans or replaces it and regenerates twice.
func (c *Column) Renew() {
	for i := range c.cells {
		c.cells[i].ca, c.cells[i].mg = 0, 0
		c.cells[i].water.Calcium, c.cells[i].water.Magnesium = 0, 0
	}
	c.sealed = 0
}

// Mixed lets the beads of neighbouring slices change places, as in a backwash:
// the given share of each slice goes to the next and as much comes back.
func (c *Column) Mixed(share float64) {
	for i := 1; i < len(c.cells); i++ {
		a, b := &c.cells[i-1], &c.cells[i]
		ca, mg := share*(a.ca-b.ca), share*(a.mg-b.mg)
		a.ca, b.ca = a.ca-ca, b.ca+ca
		a.mg, b.mg = a.mg-mg, b.mg+mg
	}
}

// Loaded is the share of the working sites that hold hardness.
func (c *Column) Loaded() float64 {
	var sum float64
	for i := range c.cells {
		sum += c.cells[i].ca + c.cells[i].mg
	}
	return sum / (c.sites * float64(len(c.cells)))
}

// Holds is what the bed holds in eq, on the resin and in the water between:
// Total counts the water's cations only, since the resin always holds its fill.
func (c *Column) Holds() Water {
	var sum Water
	for i := range c.cells {
		at := &c.cells[i]
		sum.Calcium += at.ca*c.bed + at.water.Calcium*c.pores
		sum.Magnesium += at.mg*c.bed + at.water.Magnesium*c.pores
		sum.Total += at.water.Total * c.pores
	}
	return sum
}

// Sealed is the hardness in eq that lost sites have locked up.
func (c *Column) Sealed() float64 { return c.sealed }

// PoreVolume is the water in one slice of the bed, L.
func (c *Column) PoreVolume() float64 { return c.pores }

// Options are the options the column was made with, defaults filled in.
func (c *Column) Options() Options { return c.options }
