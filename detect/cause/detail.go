package cause

import (
	"fmt"
	"math"
	"slices"

	"brinebell/detect"
)

// detail is how a named piece of a finding's evidence falls out by cause.
type detail struct {
	key     string
	choices []string    // words; none for numbers
	least   float64     // numbers below count as this
	rows    [][]float64 // by cause, "other" last: chances, or median and factor
}

// doubt is the share of every detail that is taken to be as with any other
// cause: no row is trusted more than that, so one odd number never rules a cause
// out by itself.
const doubt = 0.05

// doubtWord is the same of a word that a detector chose: it measures nothing.
const doubtWord = 0.01

// leastDensity keeps numbers far beyond every row from ruling out all causes.
const leastDensity = 1e-9

// likelihood is the density of the detail for each cause, or nil when the
// finding does not carry it.
func (d *detail) likelihood(e detect.Evidence) []float64 {
	v, ok := e[d.key]
	if !ok {
		return nil
	}
	density := d.density(v)
	if density == nil {
		return nil
	}
	doubt := doubt
	if len(d.choices) > 0 {
		doubt = doubtWord
	}
	like := make([]float64, len(d.rows))
	any := density(d.rows[len(d.rows)-1])
	for c, row := range d.rows {
		like[c] = math.Max((1-doubt)*density(row)+doubt*any, leastDensity)
	}
	return like
}

func (d *detail) density(v any) func(row []float64) float64 {
	if len(d.choices) > 0 {
		if i := slices.Index(d.choices, fmt.Sprint(v)); i >= 0 {
			return func(row []float64) float64 { return row[i] }
		}
		return nil
	}
	x, ok := number(v)
	if !ok {
		return nil
	}
	log := math.Log(math.Max(x, d.least))
	return func(row []float64) float64 { return normal(log, math.Log(row[0]), math.Log(row[1])) }
}

// number reads what detectors and decoders put into evidence.
func number(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, !math.IsNaN(x)
	case int:
		return float64(x), true
	case int64:
		return float64(x), true
	}
	return 0, false
}

// normal is the density of the normal distribution.
func normal(x, mean, deviation float64) float64 {
	z := (x - mean) / deviation
	return math.Exp(-z*z/2) / (deviation * math.Sqrt(2*math.Pi))
}
