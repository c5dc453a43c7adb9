package sequential

import (
	"fmt"
	"math"
	"testing"
)

// The run length in control is as asked for: the statistic less the number of
// observations is a martingale, so the mean of R at the signal is the mean run
// length, with far less scatter than counting observations.
func TestShiryaevRobertsRunLength(t *testing.T) {
	for _, c := range []struct{ least, most, length float64 }{{0.5, 2, 1000}, {0.25, 1, 500}, {1, 1, 300}} {
		var atSignal Moments
		counted, se := simulate(400, 11, 0, func() func(float64) bool {
			s := ShiryaevRobertsFor(c.least, c.most, c.length)
			return func(z float64) bool {
				if !s.Add(z) {
					return false
				}
				atSignal.Add(s.Value())
				return true
			}
		})
		near(t, fmt.Sprintf("%+v", c), atSignal.Mean, c.length, 0.06)
		if math.Abs(counted-c.length) > 4*se {
			t.Errorf("%+v: counted %g ± %g", c, counted, se)
		}
	}
}

func TestShiryaevRobertsNamesTheShift(t *testing.T) {
	s := ShiryaevRobertsFor(0.5, 2, 1000)
	for !s.Add(2) {
	}
	if got := s.Likeliest(); got < 1.5 {
		t.Errorf("likeliest shift %g of 2", got)
	}
}

// The best possible delays, computed from the formula by another program.
func TestLeastDelay(t *testing.T) {
	for _, c := range []struct{ shift, length, delay float64 }{
		{1, 335.37, 8.328}, {1, 930.89, 10.321}, {1, 10000, 15.039}, {0.5, 10000, 49.105}, {2, 10000, 4.452},
	} {
		near(t, "delay", Least(c.shift, c.length), c.delay, 2e-4)
	}
}

// delays compares a test with the best possible at the same run length.
func delays(runs int, shift, length float64, fresh func() func(float64) bool) float64 {
	got, _ := simulate(runs, 5, shift, fresh)
	return got / Least(shift, length)
}

const falseAlarm = 10000 // observations in control to one

func tuned(shift float64) func() func(float64) bool {
	return func() func(float64) bool {
		c := CUSUM{Reference: shift / 2, Limit: LimitFor(shift/2, falseAlarm)}
		return c.Add
	}
}

func ranged() func(float64) bool {
	s := ShiryaevRobertsFor(0.5, 2, falseAlarm)
	return s.Add
}

// At one false alarm in 10,000 observations a matched CUSUM is within 10 % of
// the best possible, the mixture within 30 % over a fourfold range of shifts.
func TestDelayAgainstTheBest(t *testing.T) {
	for _, shift := range []float64{0.5, 0.7, 1, 1.4, 2} {
		if r := delays(4000, shift, falseAlarm, tuned(shift)); r > 1.10 {
			t.Errorf("matched CUSUM at %g: %.3f times the best", shift, r)
		}
		if r := delays(4000, shift, falseAlarm, ranged); r > 1.30 {
			t.Errorf("mixture at %g: %.3f times the best", shift, r)
		}
	}
}

func BenchmarkDelay(b *testing.B) {
	for _, shift := range []float64{0.5, 0.7, 1, 1.4, 2} {
		b.Run(fmt.Sprint("shift=", shift), func(b *testing.B) {
			for range b.N {
				b.ReportMetric(delays(20000, shift, falseAlarm, tuned(shift)), "matched/best")
				b.ReportMetric(delays(20000, shift, falseAlarm, ranged), "mixture/best")
			}
		})
	}
}

func BenchmarkAdd(b *testing.B) {
	s := ShiryaevRobertsFor(0.5, 2, falseAlarm)
	for b.Loop() {
		s.Add(-0.1)
	}
}
