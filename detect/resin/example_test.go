package resin_test

import (
	"fmt"
	"time"

	"brinebell/detect"
	"brinebell/detect/resin"
)

// A one cubic foot softener given 6.8 kg of salt each time, at a home that draws
// 500 L a day.
func ExampleAdvise() {
	home := detect.DefaultHome("mill-lane-4", time.UTC)
	home.Softener.SaltDose, home.Softener.Capacity = 6.8, 1.4
	use := resin.Use{Weekday: [7]float64{600, 460, 460, 460, 460, 460, 600}, Heavy: 650}
	advice := resin.Advise(&home, detect.Water{Hardness: 300}, use)
	for _, s := range []resin.Setting{advice.Present, advice.Advised} {
		fmt.Printf("%.1f kg every %.1f days: %.0f kg of salt and %.0f L of water a year\n", s.Dose, s.Days, s.SaltPerYear, s.WaterYear)
	}
	// Output:
	// 6.8 kg every 11.1 days: 224 kg of salt and 8232 L of water a year
	// 2.8 kg every 8.0 days: 128 kg of salt and 11448 L of water a year
}
