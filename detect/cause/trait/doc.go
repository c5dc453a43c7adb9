// Package trait keeps what a home's regenerations are usually like, and says how
// the last ones differ: numbers that tell one cause from another. A clogged
// injector draws slowly and rinses slowly, and its backwash is as ever; a kinked
// drain takes from both; a changed dose shortens the refill.
//
// Each trait is a share of the home's own usual, which starts at the programme
// where the programme says what it should be. It is learnt from regenerations
// with nothing open at the home, some regenerations late, so that a fault that
// creeps up does not become the usual before anybody notices it.
package trait
