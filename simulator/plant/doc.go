// Package plant is the physics of a household softener, from the house main to
// the hot tap: the resin column, the brine tank, the injector, the valve that
// runs them by its programme, the pressure that drives it all, and the heater
// behind. It knows nothing of how anybody judges a softener: what a fault looks
// like follows from what it breaks.
//
// A Plant is advanced with Step, told what the household draws, and broken and
// healed with Set. It draws no random numbers but those seeded in Setup, reads
// no clock, and allocates nothing while it steps.
package plant
