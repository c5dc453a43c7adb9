package fault

import "brinebell/detect"

// Where is the part of the simulation that a cause acts in.
type Where uint8

// The parts.
const (
	PlantSide Where = iota // softener, brine tank, valve, source water: plant.Set
	Plumbing               // taps, cisterns and pipes of the house
	Sensing                // meters, cables and sensors
	Household              // the people
)

// String is the part's name.
func (w Where) String() string {
	switch w {
	case PlantSide:
		return "plant"
	case Plumbing:
		return "plumbing"
	case Sensing:
		return "sensing"
	}
	return "household"
}

// Place is where a cause acts.
func Place(c detect.Cause) Where {
	switch c {
	case detect.FlapperLeak, detect.DrippingFixture, detect.SupplyLineLeak, detect.FixtureLeftOpen:
		return Plumbing
	case detect.MeterJammed, detect.MeterCable, detect.SensorFault:
		return Sensing
	case detect.UseGrew, detect.AwayFromHome:
		return Household
	}
	return PlantSide
}

// ReachesPlant says whether the plant must be told of a cause. Beside the
// causes placed there, a jammed meter or a broken meter cable reaches it: a
// metered valve that counts with that meter counts no water.
func ReachesPlant(c detect.Cause) bool {
	return Place(c) == PlantSide || c == detect.MeterJammed || c == detect.MeterCable
}
