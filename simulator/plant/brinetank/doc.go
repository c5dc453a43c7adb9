// Package brinetank is the tank beside a softener: salt, the liquid in its
// pores, the brine well and the pickup. Levels come from geometry and masses,
// strength from dissolution over hours.
//
// Liquid among the salt stands in the pores only; above the salt, below the
// grid and in the well it has the whole of its area. A bridge holds salt up out
// of reach of the liquid while its top stands where it stood; mush fills the
// pores at the bottom and seals the salt from the water.
package brinetank
