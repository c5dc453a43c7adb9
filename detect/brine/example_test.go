package brine_test

import (
	"fmt"
	"math"

	"brinebell/detect"
	"brinebell/detect/brine"
)

// A regeneration drew the brine from 250 down to 135 mm, in a tank whose salt
// stands above the liquid.
func Example() {
	tank := brine.NewTank(detect.BrineTank{Diameter: 460, Well: 100, SaltVoid: 0.42})
	unknown := math.NaN()
	litres := tank.Volume(250, unknown) - tank.Volume(135, unknown)
	fmt.Printf("%.1f L of brine, %.2f kg of salt\n", litres, litres*brine.SaturatedSaltPerLitre)
	fmt.Printf("level times area would have said %.1f L\n", (tank.Volume(250, 0) - tank.Volume(135, 0)))
	// Output:
	// 8.6 L of brine, 2.71 kg of salt
	// level times area would have said 19.1 L
}

// Water let in is not brine drawn out.
func ExampleWaterFor() {
	water := brine.WaterFor(detect.SodiumChloride, 2.7, 15)
	solution := brine.BrineFor(detect.SodiumChloride, 2.7, 15)
	fmt.Printf("%.2f L of water become %.2f L of brine\n", water, solution)
	// Output: 7.55 L of water become 8.52 L of brine
}
