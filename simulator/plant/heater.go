package plant

// A storage heater behind the softener, mixed throughout, and the share of the
// household's soft water that goes through it: common practice.
const (
	heaterLitres = 150
	hotShare     = 0.35
)

// heat passes the hot share of litres of hardness mg/L through the heater that
// holds hot mg/L, and returns what it holds then.
func heat(hot, litres, hardness float64) float64 {
	return hot + (hardness-hot)*min(1, hotShare*litres/heaterLitres)
}
