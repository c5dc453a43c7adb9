// Package brine is what a brine tank and the solution in it are: how much
// liquid stands at a level, how much salt is in a litre of brine, and what
// becomes of water in which salt dissolves.
//
// A level is not a volume until one knows what stands in the tank. Up to the
// grid there is only liquid; above it liquid has the brine well and the pores
// between the pellets; above the salt it has the whole tank again. Tank keeps
// that shape and goes from level to volume and back exactly.
//
// A volume is not a mass until one knows the strength. Brine that has stood on
// sodium chloride for some hours is saturated, and between 0 and 40 degC a
// litre of it holds the same 0.3175 kg within 0.3 %, because what it gains in
// strength it loses in density: a level needs no thermometer. That mass is per
// litre of brine. Per litre of water that was let in it is 0.359 kg, because
// the litre becomes 1.13 litres; to confuse the two is a 13 % error.
//
// Potassium chloride behaves otherwise: its saturated brine gains a sixth in
// salt from 10 to 30 degC, and there the thermometer is needed.
//
// Units: mm, litres, kg, degC; strengths are mass fractions, 0 to 1.
package brine
