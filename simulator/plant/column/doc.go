// Package column is a bed of softening resin: a train of well-mixed slices in
// which calcium, magnesium and the monovalent ion of the salt change places
// between water and beads.
//
// Three things make a softener behave as it does, and they are all here.
// Mass action decides which way ions go: in tap water the resin holds on to
// hardness, in brine it lets go (Selectivity). Transfer takes time: through the
// film round the bead in service, within the bead in brine. And the bed is long,
// so that hardness forms a front that travels down it in service, and brine,
// which comes from the same end, leaves hardness at its foot to leak out later.
// Capacity against salt dose, leakage, early breakthrough of a fouled or
// channelled bed follow; none is put in.
//
// The constants that decide them are four, the same for every bed: sites per
// litre and affinities, which are published, and the number of slices and the
// rate within the beads, which were chosen together so that the published
// capacities at 6 and 20 lb of salt per cubic foot come out; the rows between
// are checks.
//
// Concentrations and loads are in equivalents per litre, of water and of bed.
// Hardness is conserved to rounding: what leaves the water enters the resin.
package column
