package finding

import (
	"math"
	"math/rand/v2"
	"testing"

	"brinebell/detect"
)

// household plays days of ordinary scatter about a mean, in litres, with a salt
// book that says nothing.
func (l *life) household(r *rand.Rand, days int, litres float64) *life {
	l.view.Leading = detect.ServiceFlow
	for range days {
		today := litres * math.Exp(0.33*r.NormFloat64())
		l.until(7, 0)
		for range 10 {
			l.minutes(5, flows{detect.ServiceFlow: today / 50}).minutes(30, nil)
		}
	}
	return l
}

func TestUseGrew(t *testing.T) {
	for seed := range uint64(3) {
		r := rand.New(rand.NewPCG(seed, 5))
		for _, p := range []plot{
			{"as ever", nil, func(l *life) { l.household(r, 150, 300) }, ""},
			{"people moved in", nil, func(l *life) { l.household(r, 50, 300).household(r, 45, 540) }, "+salt_use_high "},
			{"that is their own in time", nil, func(l *life) { l.household(r, 50, 300).household(r, 120, 600) }, "+salt_use_high -salt_use_high "},
			{"guests for a fortnight", nil, func(l *life) {
				l.household(r, 50, 300).household(r, 14, 600).household(r, 40, 300)
			}, ""},
			{"back from a long journey", nil, func(l *life) {
				l.household(r, 50, 300).days(20, 1).household(r, 50, 300)
			}, ""},
			{"a tenth more", nil, func(l *life) { l.household(r, 50, 300).household(r, 60, 330) }, ""},
			{"a garden in summer", nil, func(l *life) {
				l.household(r, 50, 300)
				for range 40 {
					l.household(r, 1, 300).until(21, 0).minutes(40, flows{detect.ServiceFlow: 14})
				}
			}, ""},
		} {
			p.check(t, func() Detector { return &SaltUseWatch{} })
		}
	}
}
