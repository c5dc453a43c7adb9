package finding

import (
	"math/rand/v2"
	"testing"
)

// A wheel that turns too slowly and a plug that loses contact show the same share
// of the water, and are told apart. Pulses of 0.1 and 1 L.
func TestPatchyTellsAPlugFromAWheel(t *testing.T) {
	for _, pulse := range []float64{0.1, 1} {
		for _, share := range []float64{0.3, 0.5, 0.8} {
			var wheel, plug Patchy
			r := rand.New(rand.NewPCG(1, uint64(100*share)))
			count := func(litres float64, part *float64) float64 {
				*part += litres
				n := float64(int(*part / pulse))
				*part -= n * pulse
				return n * pulse
			}
			var a, b, c float64
			contact := true
			for minute := range 600 {
				if minute%5 == 0 {
					contact = r.Float64() < share
				}
				flow := 4 + 8*r.Float64()
				in := count(flow, &a)
				wheel.add(in, count(flow*share, &b), pulse, pulse)
				seen := 0.0
				if contact {
					seen = flow
				}
				plug.add(in, count(seen, &c), pulse, pulse)
			}
			stiff, ok := wheel.share()
			loose, also := plug.share()
			if !ok || !also || stiff > 0.15 || loose < 0.5 {
				t.Errorf("pulse %v L, %v seen: wheel %.2f, plug %.2f", pulse, share, stiff, loose)
			}
		}
	}
	var slowing Patchy // from all of the water to a quarter, in days
	for i := range 2000 {
		slowing.add(10, 10*(1-0.75*float64(i)/2000), 0.1, 0.1)
	}
	if v, ok := slowing.share(); !ok || v > 0.1 {
		t.Errorf("a wheel that slows down: %.2f", v)
	}
	if _, ok := (&Patchy{}).share(); ok {
		t.Error("nothing seen, something told")
	}
}
