// Package seriestest is the conformance test of series stores: what the
// collector relies on, whatever stands behind the interface.
package seriestest
