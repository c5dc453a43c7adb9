package score

import (
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// tail is the probability left out on either side of an interval of 95 %.
const tail = 0.025

// Exact is found of n with the exact binomial interval of 95 % (Clopper and
// Pearson, Biometrika 26, 1934): quantiles of beta distributions. Of nothing it
// is 0 with the interval 0 to 1.
func Exact(found, n int) Share {
	if n == 0 {
		return Share{High: 1}
	}
	x, m := float64(found), float64(n)
	s := Share{Share: x / m, High: 1}
	if found > 0 {
		s.Low = distuv.Beta{Alpha: x, Beta: m - x + 1}.Quantile(tail)
	}
	if found < n {
		s.High = distuv.Beta{Alpha: x + 1, Beta: m - x}.Quantile(1 - tail)
	}
	return s
}

// mostOfNone is the upper end of the exact interval of 95 % for the mean of a
// Poisson count that was 0 (Garwood, Biometrika 28, 1936): -ln 0.025.
const mostOfNone = 3.688879454113936

// resamples is how many bootstrap samples are drawn: the ends of an interval of
// 95 % then stand on fifty samples each.
const resamples = 2000

// Bootstrap is the percentile interval of 95 % of sum(counts)/sum(years) when
// homes are drawn with replacement (Efron and Tibshirani, An Introduction to
// the Bootstrap, 1993, section 13.3). Without a single count no resample has
// one either, so that the upper end is then Garwood's.
func Bootstrap(counts []int, years []float64, intn func(int) int) (low, high float64) {
	total, all := 0, 0.0
	for i := range counts {
		total, all = total+counts[i], all+years[i]
	}
	switch {
	case all == 0:
		return 0, 0
	case total == 0:
		return 0, mostOfNone / all
	case intn == nil:
		return 0, 0
	}
	rates := make([]float64, resamples)
	for b := range rates {
		n, t := 0, 0.0
		for range counts {
			i := intn(len(counts))
			n, t = n+counts[i], t+years[i]
		}
		if t > 0 {
			rates[b] = float64(n) / t
		}
	}
	slices.Sort(rates)
	const cut = int(tail * resamples)
	return rates[cut], rates[resamples-1-cut]
}
