package books

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A regeneration is recognised at its end or hours later; the books come out the
// same, whatever was drawn meanwhile and wherever midnight falls.
func TestTheHourOfTheReportDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		hour := rapid.IntRange(0, 23).Draw(t, "hour")
		downstream := rapid.Bool().Draw(t, "downstream")
		first := time.Date(2026, 3, 3, hour, 0, 0, 0, time.UTC)
		keep := func(delay int) Books {
			h := home()
			h.Meters.Service.Downstream = downstream
			l, r := New(h), rand.New(rand.NewPCG(seed, 8))
			for i := -600; i < 4*1440; i++ {
				at := first.Add(time.Duration(i) * time.Minute)
				service := max(0, 3*r.NormFloat64())
				rinse := 0.0
				if i >= 0 && i%2880 < 80 {
					rinse = 3
				}
				if !downstream {
					service += rinse
				}
				l.Step(minute(at, service, service+rinse))
				if ended := i - 79 - delay; ended >= 0 && ended%2880 == 0 {
					l.Regeneration(record(at.Add(time.Duration(-79-delay) * time.Minute)))
				}
			}
			return l.View()
		}
		at, later := keep(0), keep(rapid.IntRange(1, 380).Draw(t, "delay"))
		for name, pair := range map[string][2]Number{
			"through": {at.Yesterday.Through, later.Yesterday.Through},
			"past":    {at.Yesterday.Past, later.Yesterday.Past},
			"rinse":   {at.Yesterday.Rinse, later.Yesterday.Rinse},
			"since":   {at.Bed.Litres, later.Bed.Litres},
			"removed": {at.Bed.Removed, later.Bed.Removed},
			"left":    {at.Bed.Left, later.Bed.Left},
			"seen":    {at.Bed.Seen, later.Bed.Seen},
		} {
			if !(math.Abs(float64(pair[0]-pair[1])) <= 1e-3+1e-6*math.Abs(float64(pair[0]))) {
				t.Fatalf("%s is %v when reported at once, %v when later", name, pair[0], pair[1])
			}
		}
	})
}
