// Package column is a bed of softening resin.
package column
