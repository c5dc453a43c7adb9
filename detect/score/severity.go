package score

import (
	"cmp"
	"slices"
)

const (
	// nineInTen is the share found that "smallest found" asks for.
	nineInTen = 0.9
	// leastAbove is how many episodes must be as severe or more for a severity to
	// be claimed: fewer would make one lucky find a claim.
	leastAbove = 5
)

// curve fits the share found against severity by isotonic regression: the
// non-decreasing step function closest to what was seen. Unlike a logistic
// curve it supposes no shape and does not diverge where found and missed
// separate perfectly.
func curve(of []Judged) []Point {
	var counted []Judged
	for _, j := range of {
		if j.Outcome.Counts() {
			counted = append(counted, j)
		}
	}
	slices.SortStableFunc(counted, func(a, b Judged) int { return cmp.Compare(a.Severity, b.Severity) })
	var points []Point
	var weights []float64
	for _, j := range counted {
		hit := 0.0
		if j.Outcome == Found {
			hit = 1
		}
		if n := len(points); n > 0 && points[n-1].Severity == j.Severity {
			w := weights[n-1]
			points[n-1].Share = (points[n-1].Share*w + hit) / (w + 1)
			weights[n-1]++
			continue
		}
		points, weights = append(points, Point{j.Severity, hit}), append(weights, 1)
	}
	y := make([]float64, len(points))
	for i, p := range points {
		y[i] = p.Share
	}
	for i, v := range Isotonic(y, weights) {
		points[i].Share = v
	}
	return points
}

// smallest is the least severity of the fit at which nine in ten are found.
func smallest(fit []Point, of []Judged) float64 {
	for _, p := range fit {
		if p.Share < nineInTen {
			continue
		}
		above := 0
		for _, j := range of {
			if j.Outcome.Counts() && j.Severity >= p.Severity {
				above++
			}
		}
		if above >= leastAbove {
			return p.Severity
		}
		break
	}
	return 0
}

// Isotonic is the non-decreasing sequence with the least weighted squared
// distance from y, by pooling adjacent violators (Ayer, Brunk, Ewing, Reid and
// Silverman 1955). Weights are positive and as many as y.
func Isotonic(y, weights []float64) []float64 {
	type pool struct {
		mean, weight float64
		n            int
	}
	var pools []pool
	for i := range y {
		p := pool{y[i], weights[i], 1}
		for len(pools) > 0 && pools[len(pools)-1].mean >= p.mean {
			q := pools[len(pools)-1]
			pools = pools[:len(pools)-1]
			w := p.weight + q.weight
			p = pool{(p.mean*p.weight + q.mean*q.weight) / w, w, p.n + q.n}
		}
		pools = append(pools, p)
	}
	fit := make([]float64, 0, len(y))
	for _, p := range pools {
		for range p.n {
			fit = append(fit, p.mean)
		}
	}
	return fit
}
