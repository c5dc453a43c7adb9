// Package detect is the vocabulary of Brinebell: signals, readings, quantities,
// the profile of a home, and the names of findings and causes.
//
// The packages below it hold what the product knows about water softeners:
// brine and resin chemistry, the recogniser of regenerations, the books, the
// detectors and the ranking of causes; package engine joins them. Readings go
// in, alerts come out. Nothing here or below does I/O, starts a goroutine,
// reads a clock or draws a random number, so the same readings always give the
// same alerts.
//
// Quantities are float64 in the canonical unit of their kind: litres, L/min,
// millimetres, kilograms, kilopascals, mg/L as CaCO3 for hardness, eq per litre
// of resin for capacity. ParseQuantity is the only door for other units.
package detect
