// Package household invents the people of a home that does not exist, and what
// they draw from their taps.
//
// A Household is drawn once from published end-use statistics: who lives there,
// which fixtures they have, when they get up, whether the garden waters itself.
// A Demand then plays that household day by day. It plans each local day as a
// list of uses (a flush, a shower, one fill of a washing machine), each with a
// start, an end and a flow, and answers what flows at an instant and until when
// that holds, so that whoever steps a home through time need not step where
// nothing changes.
//
// What is broken in the plumbing is played here as well, because it is demand:
// a cistern that loses water and refills, a drip, a hole in a pipe, a tap left
// open; so is a household that grew or went away.
//
// Everything is drawn from PCG streams given by a seed; starts and ends are whole
// seconds and flows hundredths of a litre a minute, so that the last bit of a
// logarithm on another machine changes nothing.
package household
